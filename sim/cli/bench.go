package cli

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"
)

// maxRecord bounds what is read of a ready record or an answer of a bench: that of
// a fleet has some 300 bytes for each device.
const maxRecord = 32 << 20

// errNotPlain is a ready file that no serve has written. A pipe in its place
// would hold up whoever reads it.
var errNotPlain = errors.New("it is not a plain file")

// bench is the bench of a simulator that was started with serve.
type bench struct {
	at    string // host:port
	token string // "": only what everybody may ask
}

// refusal is an answer other than 200.
type refusal struct {
	code int
	why  string
}

func (r *refusal) Error() string { return r.why }

// readRecord reads a ready file. Its errors do not repeat the name.
func readRecord(path string) ([]byte, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, withoutPath(err)
	}
	if !info.Mode().IsRegular() {
		return nil, errNotPlain
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, withoutPath(err)
	}
	defer f.Close()
	record, err := io.ReadAll(io.LimitReader(f, maxRecord+1))
	switch {
	case err != nil:
		return nil, withoutPath(err)
	case len(record) > maxRecord:
		return nil, fmt.Errorf("not a ready record: more than %d bytes", maxRecord)
	}
	return record, nil
}

// benchOf is the bench that a ready record names.
func benchOf(record []byte) (bench, error) {
	var r struct {
		Ready     bool `json:"ready"`
		Endpoints struct {
			Bench string `json:"bench"`
		} `json:"endpoints"`
		Token string `json:"bench_token"`
	}
	switch err := json.Unmarshal(record, &r); {
	case err != nil:
		return bench{}, fmt.Errorf("not a ready record: %w", err)
	case !r.Ready || r.Endpoints.Bench == "":
		return bench{}, errors.New("the record does not say ready")
	}
	return bench{at: r.Endpoints.Bench, token: r.Token}, nil
}

// ask is the answer to one request. The error is a *refusal for an answer other
// than 200.
func (b bench) ask(ctx context.Context, method, path, body string) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, method, "http://"+b.at+path, strings.NewReader(body))
	if err != nil {
		return nil, err
	}
	if b.token != "" {
		req.Header.Set("Authorization", "Bearer "+b.token)
	}
	// Neither a proxy nor a kept connection has a place between us and loopback.
	client := http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	answer, err := client.Do(req)
	if err != nil {
		return nil, errors.Unwrap(err) // without the address, which is known
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(io.LimitReader(answer.Body, maxRecord))
	if err != nil {
		return nil, err
	}
	if answer.StatusCode != http.StatusOK {
		return nil, refused(answer, text)
	}
	return text, nil
}

// refused is why the bench refuses, as it says itself.
func refused(answer *http.Response, text []byte) *refusal {
	var said struct {
		Error string `json:"error"`
	}
	if json.Unmarshal(text, &said) != nil || said.Error == "" {
		said.Error = "the bench answers " + answer.Status
	}
	return &refusal{answer.StatusCode, said.Error}
}
