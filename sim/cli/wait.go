package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// pollEvery is the time between two looks; each is cheap.
const pollEvery = 20 * time.Millisecond

type waitFlags struct {
	benchFlags
	timeout   time.Duration
	condition string
	device    string
	bound     time.Duration // the simulated time within which it has to hold
}

func (a *app) waitCommand() *cobra.Command {
	f := &waitFlags{}
	cmd := &cobra.Command{
		Use:   "wait (--ready-file FILE | --bench HOST:PORT [--token TOKEN]) [--for CONDITION --within TIME [--device N]]",
		Short: "Wait until a simulator that was started with serve is ready, or until something holds there",
		Long: "Wait until a simulator that was started with serve is ready, and write its ready\n" +
			"record. A file that is left over from one that is gone does not count: the bench\n" +
			"that it names has to know its token and give the same record. --bench alone, without\n" +
			"the token, learns no more than {\"ready\":true}.\n\n" +
			"With --for wait, once it is ready, until CONDITION of the expression language holds\n" +
			"(docs/scenario.md), while time goes as it goes, and write one line of JSON\n" +
			"(docs/bench.md). Exit code 1 says that it did not hold --within the simulated time.\n" +
			"Without flags that tell, the simulator is then the one that started this program,\n" +
			"as for send.",
		Args: between(0, 0, "arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error { return a.waitFor(cmd, f) },
	}
	f.benchFlags.add(cmd)
	cmd.Flags().DurationVar(&f.timeout, "timeout", 30*time.Second, "give up after this `TIME` of the machine's clock; with --for that is no limit unless given")
	cmd.Flags().StringVar(&f.condition, "for", "", "wait until `CONDITION` holds")
	cmd.Flags().StringVar(&f.device, "device", "", "of a fleet, for which device: `N`, counted from 1, or its serial number")
	cmd.Flags().DurationVar(&f.bound, "within", 0, "the most simulated `TIME` to wait --for it")
	return cmd
}

func (f *waitFlags) check() error {
	switch {
	case (f.readyFile == "") == (f.bench == ""):
		return usagef("wait needs either --ready-file or --bench")
	case f.bench != "" && !isAddress(f.bench, realPort):
		return usagef("--bench %q: expected HOST:PORT with a port from 1 to 65535", f.bench)
	case f.bench == "" && f.token != "":
		return usagef("--ready-file names the bench and its token; --token does not go with it")
	case f.timeout <= 0:
		return usagef("--timeout %v: expected more than 0s", f.timeout)
	}
	return nil
}

func (a *app) waitFor(cmd *cobra.Command, f *waitFlags) error {
	if cmd.Flags().Changed("for") != cmd.Flags().Changed("within") {
		return usagef("--for and --within go together: a condition, and a bound for it such as 10m")
	}
	if cmd.Flags().Changed("device") && f.condition == "" {
		return usagef("--device goes with --for: a fleet is ready when all of it is")
	}
	if cmd.Flags().Changed("device") && f.device == "" {
		return noDevice()
	}
	if f.condition == "" {
		return a.wait(cmd.Context(), f, a.out)
	}
	if f.readyFile != "" || f.bench != "" {
		if err := a.wait(cmd.Context(), f, io.Discard); err != nil {
			return err
		}
	}
	ctx := cmd.Context()
	if cmd.Flags().Changed("timeout") {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, f.timeout)
		defer cancel()
	}
	b, err := f.find(a.env, "wait --for")
	if err != nil {
		return err
	}
	o := untilOrder("/v1/wait", f.condition, f.bound)
	if cmd.Flags().Changed("device") {
		o.path += "?device=" + url.QueryEscape(f.device)
	}
	answer, err := a.tell(ctx, b, o)
	switch {
	case cmd.Context().Err() == nil && ctx.Err() != nil:
		return &sim.IOError{Op: "wait for", Path: f.condition, Err: fmt.Errorf("not within %v of the machine's clock", f.timeout)}
	case err != nil:
		return err
	}
	return a.report(answer, o)
}

// wait writes the ready record to out.
func (a *app) wait(ctx context.Context, f *waitFlags, out io.Writer) error {
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
			_, err = out.Write(record)
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
		return bench{at: f.bench, token: f.token}.ask(ctx, http.MethodGet, "/readyz", "")
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
