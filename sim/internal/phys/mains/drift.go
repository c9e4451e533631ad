package mains

// Drift is an even change from one value to another over Seconds (more than 0).
type Drift struct {
	From, To, Seconds float64
}

// At is the value after seconds, To from the end on.
func (d Drift) At(seconds float64) float64 {
	if seconds >= d.Seconds {
		return d.To
	}
	return d.From + float64((d.To-d.From)*(seconds/d.Seconds))
}
