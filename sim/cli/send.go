package cli

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// answerWithin is how long a bench may take; it answers within a step of the
// engine.
const answerWithin = 10 * time.Second

// benchFlags name a simulator's bench.
type benchFlags struct {
	readyFile, bench, token string
}

func (f *benchFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.readyFile, "ready-file", "", "the `FILE` that serve --ready-file writes")
	cmd.Flags().StringVar(&f.bench, "bench", "", "the `HOST:PORT` of its bench")
	cmd.Flags().StringVar(&f.token, "token", "", "the bench's `TOKEN`")
}

type sendFlags struct {
	benchFlags
	clockFlags
	device string
}

func (a *app) sendCommand() *cobra.Command {
	f := &sendFlags{}
	cmd := &cobra.Command{
		Use:   "send [--ready-file FILE | --bench HOST:PORT --token TOKEN] (ENTRY | --pause | --resume | --speed N | --step TIME | --until CONDITION | --end)",
		Short: "Let something happen to a simulator that was started with serve, or drive its clock",
		Long: "Let something happen to a simulator that was started with serve. ENTRY is a timeline\n" +
			"entry without its time, as in send 'source = \"lost\"' or send 'charge_pct = 40'\n" +
			"(docs/scenario.md). Without flags the simulator is the one that started this program,\n" +
			"which RIDETHROUGH_BENCH and RIDETHROUGH_TOKEN tell. Nothing is written if it was done.\n\n" +
			"In place of ENTRY a flag drives the clock or ends the session, and writes the bench's\n" +
			"answer: one line of JSON, or the result for --end (docs/bench.md). --step and --until\n" +
			"let time pass as fast as it can and leave it standing. Exit code 1 says that the\n" +
			"condition of --until did not hold --within the time, or that --end found an\n" +
			"expectation that was not met.",
		Args: between(0, 1, "ENTRY"),
		RunE: func(cmd *cobra.Command, args []string) error { return a.send(cmd, f, args) },
	}
	f.benchFlags.add(cmd)
	f.clockFlags.add(cmd)
	cmd.Flags().StringVar(&f.device, "device", "", "of a fleet only device `N`, counted from 1, or with this serial number (default all)")
	return cmd
}

func (a *app) send(cmd *cobra.Command, f *sendFlags, args []string) error {
	if cmd.Flags().Changed("device") && f.device == "" {
		return noDevice()
	}
	o, err := f.order(cmd, args)
	if err != nil {
		return err
	}
	if cmd.Flags().Changed("device") {
		if o.path != "/v1/send" {
			return usagef("--device does not go with the clock, which all devices have in common")
		}
		o.path += "?device=" + url.QueryEscape(f.device)
	}
	b, err := f.find(a.env, "send")
	if err != nil {
		return err
	}
	answer, err := a.tell(cmd.Context(), b, o)
	if err != nil || o.read == nil {
		return err
	}
	return a.report(answer, o)
}

func noDevice() error {
	return usagef("--device is empty: expected the number or the serial number of a device")
}

// tell is the bench's answer to o.
func (a *app) tell(ctx context.Context, b bench, o order) ([]byte, error) {
	within, cancel := ctx, context.CancelFunc(func() {})
	if !o.long {
		within, cancel = context.WithTimeout(ctx, answerWithin)
	}
	defer cancel()
	answer, err := b.ask(within, http.MethodPost, o.path, o.body)
	var no *refusal
	switch {
	case err == nil:
		return answer, nil
	case ctx.Err() != nil:
		return nil, ended{exitInterrupted}
	case errors.As(err, &no) && no.code == http.StatusBadRequest:
		return nil, usagef("%s", no.why)
	}
	return nil, &sim.IOError{Op: "send to", Path: "the bench " + b.at, Err: err}
}

// find is the bench that the flags name, or else the environment.
func (f *benchFlags) find(env func(string) string, command string) (bench, error) {
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
		return b, usagef("%s needs --ready-file, or --bench and --token", command)
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
