// Command ridethrough is a UPS with its network card that exists only in
// software. See docs/cli.md.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"ridethrough/sim/cli"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	context.AfterFunc(ctx, stop)                            // a second signal ends the process at once
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE) // a write says so; unlike Ignore this does not reach children
	os.Exit(cli.Main(ctx, cli.World{Args: os.Args[1:], Stdout: os.Stdout, Stderr: os.Stderr, Getenv: os.Getenv}))
}
