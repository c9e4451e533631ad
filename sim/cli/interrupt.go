package cli

import (
	"context"
	"os"
	"os/signal"
	"time"
)

// sameSignal is for how long after the first one a signal is that one again: timeout(1)
// and others send it to the process and to its group.
const sameSignal = time.Second

// Interrupts is a context that the first of these signals ends. A further one, when it
// is another one, ends the process at once.
func Interrupts(signals ...os.Signal) context.Context {
	ctx, stop := signal.NotifyContext(context.Background(), signals...)
	context.AfterFunc(ctx, func() { time.AfterFunc(sameSignal, stop) })
	return ctx
}
