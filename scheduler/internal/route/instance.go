package route

// Window bounds the beginning of a stop: From <= beginning <= To.
type Window struct{ From, To int32 }

// Stop is one piece of work at one place.
type Stop struct {
	Place   int32
	Takes   int32
	Load    int32
	Windows []Window // sorted, apart; at least one
}

// Vehicle is one technician-day: leaves From no earlier than Start, is at Base no later than End.
type Vehicle struct {
	From, Base int32
	Start, End int32
	Capacity   int32
	// Profile is the index of its travel matrices.
	Profile int32
	// Opens is what its first stop adds to the cost.
	Opens int64
}

// Instance is what a State is a state of. It does not change.
type Instance struct {
	Stops    []Stop
	Vehicles []Vehicle
	Places   int32
	// Time and Cost hold per profile a row-major matrix over places, from row to column.
	Time, Cost [][]int32
	// Kinds numbers vehicles that are alike, so that only one empty vehicle of a kind is tried.
	Kinds []int32

	timeTo, costTo [][]int32 // the transposes: from column to row
}

// Ready prepares the derived matrices. It is called once, before the first State.
func (in *Instance) Ready() {
	in.timeTo, in.costTo = transposed(in.Time, in.Places), transposed(in.Cost, in.Places)
	in.Kinds = make([]int32, len(in.Vehicles))
	kinds := map[Vehicle]int32{}
	for v, vehicle := range in.Vehicles {
		if _, known := kinds[vehicle]; !known {
			kinds[vehicle] = int32(len(kinds))
		}
		in.Kinds[v] = kinds[vehicle]
	}
}

func transposed(matrices [][]int32, places int32) [][]int32 {
	var all [][]int32
	n := int(places)
	for _, m := range matrices {
		t := make([]int32, len(m))
		for i := range n {
			for j := range n {
				t[j*n+i] = m[i*n+j]
			}
		}
		all = append(all, t)
	}
	return all
}
