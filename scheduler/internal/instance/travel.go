package instance

// Turned returns travel by technician by the place to which it leads, so that all ways to one place lie side by side. Technicians
// whose matrix is one share it.
func Turned(travel [][]Seconds, places int32) [][]Seconds {
	turned := make([][]Seconds, len(travel))
	n := int(places)
	for t, matrix := range travel {
		for other := range t {
			if len(matrix) > 0 && &travel[other][0] == &matrix[0] {
				turned[t] = turned[other]
			}
		}
		if turned[t] != nil {
			continue
		}
		turned[t] = make([]Seconds, len(matrix))
		for from := range n {
			for to := range n {
				turned[t][to*n+from] = matrix[from*n+to]
			}
		}
	}
	return turned
}
