// Command ridethrough is a UPS with its network card that exists only in
// software. See docs/cli.md.
package main

import (
	"os"
	"os/signal"
	"syscall"

	"ridethrough/sim/cli"
)

func main() {
	ctx := cli.Interrupts(os.Interrupt, syscall.SIGTERM, syscall.SIGHUP)
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE) // a write says so; unlike Ignore this does not reach children
	os.Exit(cli.Main(ctx, cli.World{Args: os.Args[1:], Stdout: os.Stdout, Stderr: os.Stderr, Getenv: os.Getenv}))
}
