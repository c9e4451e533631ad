package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/http"
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// pollEvery is the time between two looks; each is cheap.
const pollEvery = 20 * time.Millisecond

type waitFlags struct {
	readyFile, bench string
	timeout          time.Duration
}

func (a *app) waitCommand() *cobra.Command {
	f := &waitFlags{}
	cmd := &cobra.Command{
		Use:   "wait (--ready-file FILE | --bench HOST:PORT)",
		Short: "Wait until a simulator that was started with serve is ready",
		Long: "Wait until a simulator that was started with serve is ready, and write its ready\n" +
			"record. A file that is left over from one that is gone does not count: the bench\n" +
			"that it names has to know its token and give the same record. --bench alone, without\n" +
			"the token, learns no more than {\"ready\":true}.",
		Args: between(0, 0, "arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error { return a.wait(cmd.Context(), f) },
	}
	cmd.Flags().StringVar(&f.readyFile, "ready-file", "", "the `FILE` that serve --ready-file writes")
	cmd.Flags().StringVar(&f.bench, "bench", "", "the `HOST:PORT` of its bench")
	cmd.Flags().DurationVar(&f.timeout, "timeout", 30*time.Second, "give up after this `TIME`")
	return cmd
}

func (f *waitFlags) check() error {
	switch {
	case (f.readyFile == "") == (f.bench == ""):
		return usagef("wait needs either --ready-file or --bench")
	case f.bench != "" && !isAddress(f.bench, realPort):
		return usagef("--bench %q: expected HOST:PORT with a port from 1 to 65535", f.bench)
	case f.timeout <= 0:
		return usagef("--timeout %v: expected more than 0s", f.timeout)
	}
	return nil
}

func (a *app) wait(ctx context.Context, f *waitFlags) error {
	if err := f.check(); err != nil {
		return err
	}
	within, cancel := context.WithTimeout(ctx, f.timeout)
	defer cancel()
	again := time.NewTicker(pollEvery)
	defer again.Stop()
	var why error
	for {
		record, err := f.look(within)
		if err == nil {
			_, err = a.out.Write(record)
			return err
		}
		if errors.Is(err, errNotPlain) {
			return &sim.IOError{Op: "read", Path: f.readyFile, Err: err}
		}
		if within.Err() == nil || why == nil {
			why = err // and not that the time was up
		}
		select {
		case <-again.C:
		case <-within.Done():
			if ctx.Err() != nil {
				return ended{exitInterrupted}
			}
			return &sim.IOError{Op: "see readiness of", Path: f.readyFile + f.bench, Err: fmt.Errorf("not within %v: %w", f.timeout, why)}
		}
	}
}

// look is the ready record, or why there is none yet.
func (f *waitFlags) look(ctx context.Context) ([]byte, error) {
	if f.bench != "" {
		return bench{at: f.bench}.ask(ctx, http.MethodGet, "/readyz", "")
	}
	record, err := readRecord(f.readyFile)
	if err != nil {
		return nil, err
	}
	b, err := benchOf(record)
	if err != nil {
		return nil, err
	}
	answer, err := b.ask(ctx, http.MethodGet, "/readyz", "")
	if err != nil {
		return nil, err
	}
	if !bytes.Equal(answer, record) {
		return nil, errors.New("another simulator answers there: the record is left over")
	}
	return record, nil
}
