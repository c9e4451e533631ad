package cli

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// answerWithin is how long a bench may take; it answers within a step of the
// engine.
const answerWithin = 10 * time.Second

type sendFlags struct {
	readyFile, bench, token string
	device                  int
}

func (a *app) sendCommand() *cobra.Command {
	f := &sendFlags{}
	cmd := &cobra.Command{
		Use:   "send [--ready-file FILE | --bench HOST:PORT --token TOKEN] ENTRY",
		Short: "Let something happen to a simulator that was started with serve",
		Long: "Let something happen to a simulator that was started with serve. ENTRY is a timeline\n" +
			"entry without its time, as in send 'source = \"lost\"' or send 'charge_pct = 40'\n" +
			"(docs/scenario.md). Without flags the simulator is the one that started this program,\n" +
			"which RIDETHROUGH_BENCH and RIDETHROUGH_TOKEN tell. Nothing is written if it was done.",
		Args: between(1, 1, "ENTRY"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.send(cmd.Context(), f, args[0]) },
	}
	cmd.Flags().StringVar(&f.readyFile, "ready-file", "", "the `FILE` that serve --ready-file writes")
	cmd.Flags().StringVar(&f.bench, "bench", "", "the `HOST:PORT` of its bench")
	cmd.Flags().StringVar(&f.token, "token", "", "the bench's `TOKEN`")
	cmd.Flags().IntVar(&f.device, "device", 0, "of a fleet only device `N`, counted from 1 (default all)")
	return cmd
}

func (a *app) send(ctx context.Context, f *sendFlags, entry string) error {
	if f.device < 0 {
		return usagef("--device %d: expected a number from 1 up", f.device)
	}
	b, err := f.find(a.env)
	if err != nil {
		return err
	}
	within, cancel := context.WithTimeout(ctx, answerWithin)
	defer cancel()
	path := "/v1/send"
	if f.device != 0 {
		path += fmt.Sprintf("?device=%d", f.device)
	}
	_, err = b.ask(within, http.MethodPost, path, entry)
	var no *refusal
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil:
		return ended{exitInterrupted}
	case errors.As(err, &no) && no.code == http.StatusBadRequest:
		return usagef("%s", no.why)
	}
	return &sim.IOError{Op: "send to", Path: "the bench " + b.at, Err: err}
}

// find is the bench that the flags name, or else the environment.
func (f *sendFlags) find(env func(string) string) (bench, error) {
	if f.readyFile != "" {
		if f.bench != "" || f.token != "" {
			return bench{}, usagef("--ready-file names the bench and its token; --bench and --token do not go with it")
		}
		return benchIn(f.readyFile)
	}
	b := bench{f.bench, f.token}
	if b == (bench{}) {
		b = bench{env("RIDETHROUGH_BENCH"), env("RIDETHROUGH_TOKEN")}
	}
	switch {
	case b.at == "" || b.token == "":
		return b, usagef("send needs --ready-file, or --bench and --token")
	case !isAddress(b.at, realPort):
		return b, usagef("--bench %q: expected HOST:PORT with a port from 1 to 65535", b.at)
	}
	return b, nil
}

// benchIn is the bench that a ready file names.
func benchIn(path string) (bench, error) {
	record, err := readRecord(path)
	if err != nil {
		return bench{}, &sim.IOError{Op: "read", Path: path, Err: err}
	}
	b, err := benchOf(record)
	if err != nil {
		return bench{}, usagef("%s: %s", path, err)
	}
	return b, nil
}
