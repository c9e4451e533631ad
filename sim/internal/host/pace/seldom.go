package pace

import (
	"context"
	"time"
)

// least is the time between two calls of [Seldom].
const least = time.Second

// Seldom calls do when some says that there is something to do, once a second at most,
// until ctx is done: a flood then costs next to nothing.
func Seldom(ctx context.Context, some <-chan struct{}, do func()) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-some:
			do()
		}
		select {
		case <-ctx.Done():
			return
		case <-time.After(least):
		}
	}
}
