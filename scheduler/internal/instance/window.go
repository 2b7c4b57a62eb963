package instance

import "sort"

// FirstIn returns the first instant from one on that lies in a window; Far when there is none, at itself where nil is any.
func FirstIn(windows []Window, at Seconds) Seconds {
	if windows == nil {
		return at
	}
	if i := NextWindow(windows, at); i < len(windows) {
		return max(at, windows[i].From)
	}
	return Far
}

// few is how many windows are looked through one by one.
const few = 8

// NextWindow returns the index of the first window that ends after an instant; their number when there is none.
func NextWindow(windows []Window, at Seconds) int {
	if len(windows) > few {
		return sort.Search(len(windows), func(i int) bool { return windows[i].To > at })
	}
	for i := range windows {
		if at < windows[i].To {
			return i
		}
	}
	return len(windows)
}

// LastIn returns the last instant up to one that lies in a window; -Far when there is none, at itself where nil is any.
func LastIn(windows []Window, at Seconds) Seconds {
	if windows == nil {
		return at
	}
	for i := len(windows) - 1; i >= 0; i-- {
		if windows[i].From <= at {
			return min(at, windows[i].To-1)
		}
	}
	return -Far
}
