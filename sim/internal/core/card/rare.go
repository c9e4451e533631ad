package card

// rare is state that most cards never have: it takes a pointer until somebody
// writes to it. A fleet has thousands of cards.
type rare[T any] struct{ at *T }

// get is the state to be looked at; all zero if nobody has written to it.
func (r rare[T]) get() (state T) {
	if r.at != nil {
		return *r.at
	}
	return state
}

// own is the state to be written to.
func (r *rare[T]) own() *T {
	if r.at == nil {
		r.at = new(T)
	}
	return r.at
}
