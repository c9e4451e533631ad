package cli

import (
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/report"
)

type recordFlags struct {
	opts        sim.RecordOptions
	credentials string
	json        bool
}

func (a *app) recordCommand() *cobra.Command {
	f := &recordFlags{}
	cmd := &cobra.Command{
		Use:   "record --agent HOST:PORT --out BUNDLE",
		Short: "Read a real card by SNMP into a bundle, without writing to it",
		Long: "Read a real card by SNMP, again and again, into a bundle: what RFC 1628 and its\n" +
			"neighbours have, and with --notifications what the card sends. Nothing is ever written\n" +
			"to the card. It goes on for the time of --for, or until it is interrupted.\n\n" +
			"The community, or the user of SNMPv3, stands in the environment, as in\n" +
			"RIDETHROUGH_SNMP_COMMUNITY, or in the file of --credentials, which nobody else may\n" +
			"read. Names, places, addresses and serial numbers become pseudonyms.\n\n" +
			"docs/record.md has the form of a bundle, and what replay and fit make of it.",
		Args: between(0, 0, "no arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error { return a.record(cmd, f) },
	}
	flags := cmd.Flags()
	flags.StringVar(&f.opts.Agent, "agent", "", "`HOST:PORT` of the card's SNMP agent")
	flags.StringVarP(&f.opts.Version, "snmp-version", "v", "2c", "`VERSION` of SNMP: 1, 2c or 3")
	flags.StringVar(&f.credentials, "credentials", "", "`FILE` with lines NAME = VALUE, of mode 0600 (default the environment)")
	flags.StringVarP(&f.opts.Out, "out", "o", "", "`BUNDLE` to write; it must not be there")
	flags.BoolVar(&f.opts.NoScrub, "no-scrub", false, "keep names, places, addresses and serial numbers as they are")
	flags.DurationVar(&f.opts.Interval, "interval", 10*time.Second, "`TIME` from one reading to the next, at least 1s")
	flags.DurationVar(&f.opts.For, "for", 0, "`TIME` to go on (default until interrupted)")
	flags.DurationVar(&f.opts.Timeout, "timeout", 3*time.Second, "`TIME` to wait for an answer, up to 1m; each request is repeated once")
	flags.Float64Var(&f.opts.Rate, "rate", 20, "at most `N` requests in a second, up to 100")
	flags.StringArrayVar(&f.opts.Also, "also", nil, "read what is under `OID` too; repeatable")
	flags.StringVar(&f.opts.Notifications, "notifications", "", "`HOST:PORT` at which to listen for the card's notifications")
	flags.BoolVar(&f.json, "json", false, "write JSON (docs/json.md)")
	return cmd
}

func (a *app) record(cmd *cobra.Command, f *recordFlags) error {
	switch {
	case f.opts.Agent == "" || f.opts.Out == "":
		return usagef("record needs --agent HOST:PORT and --out BUNDLE")
	case !isAddress(f.opts.Agent, realPort):
		return usagef("--agent %q: expected HOST:PORT with a port from 1 to 65535", f.opts.Agent)
	case f.opts.Notifications != "" && !isAddress(f.opts.Notifications, anyPort):
		return usagef("--notifications %q: expected HOST:PORT", f.opts.Notifications)
	}
	var err error
	if f.opts.Credentials, err = a.credentials(f.credentials); err != nil {
		return err
	}
	f.opts.Log = func(line string) { a.say("%s", line) }
	f.opts.Listening = func(at string) { a.say("notifications are heard at %s", at) }
	f.opts.Begins = func() { a.caution(f) }
	r, err := sim.Record(cmd.Context(), f.opts)
	var invalid *sim.InvalidError
	if errors.As(err, &invalid) {
		return usagef("%s; credentials are %s and so on, or in --credentials", invalid, credentialVariable("community"))
	}
	if err != nil {
		return err
	}
	if err := f.publish(a.out, r); err != nil {
		return err
	}
	if f.opts.For > 0 && !r.Whole {
		return ended{exitInterrupted}
	}
	return nil
}

// caution says what is about to happen to a card that may be a real one.
func (a *app) caution(f *recordFlags) {
	a.say("reading %s every %s, at most %g requests in a second, and writing nothing to it; record only what you may read, and stop if the card becomes slow",
		f.opts.Agent, f.opts.Interval, f.opts.Rate)
	if f.opts.NoScrub {
		a.say("names, places, addresses and serial numbers go into %s as they are: hand it on only to those who may know them", f.opts.Out)
	}
	if f.opts.Version != "3" {
		a.say("version %s sends the community in clear", f.opts.Version)
	}
}

type jsonRecording struct {
	Version       int      `json:"ridethrough_recording"`
	Readings      int      `json:"readings"`
	Notifications int      `json:"notifications"`
	Gaps          int      `json:"gaps"`
	Strange       int64    `json:"strange"`
	Lost          int64    `json:"lost"`
	Restarts      int      `json:"restarts"`
	AheadMS       *int64   `json:"ahead_ms,omitempty"`
	WithinMS      int64    `json:"within_ms"`
	DriftPPM      *float64 `json:"drift_ppm,omitempty"`
	Whole         bool     `json:"whole"`
}

func (f *recordFlags) publish(w io.Writer, r *sim.Recording) error {
	if !f.json {
		return recordingText(w, f.opts.Out, r)
	}
	j := jsonRecording{
		Version: 1, Readings: r.Readings, Notifications: r.Notifications, Gaps: r.Gaps, Strange: r.Strange, Lost: r.Lost,
		Restarts: r.Restarts, WithinMS: r.Within.Milliseconds(), Whole: r.Whole,
	}
	if r.Dated {
		ms := r.Ahead.Milliseconds()
		j.AheadMS = &ms
	}
	if r.Drifts {
		j.DriftPPM = &r.DriftPPM
	}
	return report.WriteJSON(w, j)
}

func recordingText(w io.Writer, path string, r *sim.Recording) error {
	within := r.Within.Round(time.Millisecond)
	text := fmt.Sprintf("%s: %d readings, %d notifications, %d gaps, %d restarts of the card\n", path, r.Readings, r.Notifications, r.Gaps, r.Restarts)
	switch {
	case r.Dated && r.Ahead < 0:
		text += fmt.Sprintf("the card's date is %s behind this machine's, within %s\n", -r.Ahead, within)
	case r.Dated:
		text += fmt.Sprintf("the card's date is %s ahead of this machine's, within %s\n", r.Ahead, within)
	}
	if r.Drifts {
		text += fmt.Sprintf("the card's clock runs %+.0f ppm against this machine's, within %.0f ppm\n", r.DriftPPM, r.DriftWithinPPM)
	}
	if r.Strange+r.Lost > 0 {
		text += fmt.Sprintf("%d datagrams were not from the card or not understood, %d found no room\n", r.Strange, r.Lost)
	}
	_, err := io.WriteString(w, text)
	return err
}
