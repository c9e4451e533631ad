package fleet

import (
	"sync"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/plan"
)

// once reads an entry once that goes to many devices, one after the other. They
// share it, as they share those of the plan. Several goroutines may call it.
func once(read engine.Injector) engine.Injector {
	if read == nil {
		return nil
	}
	var last struct {
		sync.Mutex
		text  string
		entry plan.Entry
		err   error
		read  bool
	}
	return func(text string) (plan.Entry, error) {
		last.Lock()
		defer last.Unlock()
		if !last.read || last.text != text {
			last.text, last.read = text, true
			last.entry, last.err = read(text)
		}
		return last.entry, last.err
	}
}
