package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"time"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// pollEvery is the time between two looks; each is cheap.
const pollEvery = 20 * time.Millisecond

// maxReady bounds what is read of a ready record.
const maxReady = 1 << 20

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
			"port that it names has to answer.",
		Args: between(0, 0, "arguments"),
		RunE: func(cmd *cobra.Command, _ []string) error { return a.wait(cmd.Context(), f) },
	}
	cmd.Flags().StringVar(&f.readyFile, "ready-file", "", "the `FILE` that serve --ready-file writes")
	cmd.Flags().StringVar(&f.bench, "bench", "", "the `HOST:PORT` of its bench")
	cmd.Flags().DurationVar(&f.timeout, "timeout", 30*time.Second, "give up after this `TIME`")
	return cmd
}

func (a *app) wait(ctx context.Context, f *waitFlags) error {
	if (f.readyFile == "") == (f.bench == "") {
		return usagef("wait needs either --ready-file or --bench")
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
		return ask(ctx, f.bench)
	}
	record, err := os.ReadFile(f.readyFile)
	if err != nil {
		return nil, errors.Unwrap(err)
	}
	bench, err := benchOf(record)
	if err != nil {
		return nil, err
	}
	if _, err := ask(ctx, bench); err != nil {
		return nil, err
	}
	return record, nil
}

// benchOf is where the bench of a ready record listens.
func benchOf(record []byte) (string, error) {
	var r struct {
		Ready     bool `json:"ready"`
		Endpoints struct {
			Bench string `json:"bench"`
		} `json:"endpoints"`
	}
	switch err := json.Unmarshal(record, &r); {
	case err != nil:
		return "", fmt.Errorf("not a ready record: %w", err)
	case !r.Ready || r.Endpoints.Bench == "":
		return "", errors.New("the record does not say ready")
	}
	return r.Endpoints.Bench, nil
}

// ask asks the bench itself.
func ask(ctx context.Context, bench string) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, "http://"+bench+"/readyz", nil)
	if err != nil {
		return nil, err
	}
	answer, err := http.DefaultClient.Do(req)
	if err != nil {
		return nil, errors.Unwrap(err) // without the address, which is known
	}
	defer answer.Body.Close()
	record, err := io.ReadAll(io.LimitReader(answer.Body, maxReady))
	if err != nil {
		return nil, err
	}
	if answer.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("the bench answers %s", answer.Status)
	}
	return record, nil
}
