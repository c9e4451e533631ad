package power

// DynamicClass is the class of output dynamic performance of IEC 62040-3 that an
// output meets which is dead for gapSeconds (0 or more) at a change of source:
// 1 without a gap, 2 up to 1 ms (from memory), 3 up to 10 ms, 4, the maker's own,
// beyond.
func DynamicClass(gapSeconds float64) int {
	switch {
	case gapSeconds <= 0:
		return 1
	case gapSeconds <= 0.001:
		return 2
	case gapSeconds <= 0.010:
		return 3
	}
	return 4
}
