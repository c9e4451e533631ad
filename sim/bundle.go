package sim

import (
	"errors"
	"os"

	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/face/bundle"
)

// readBundle reads what [Record] wrote. Of one that was cut off log is told. The error
// is an *IOError or an *InvalidError.
func readBundle(path string, log func(string)) (*bundle.Bundle, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, ioError("read", path, err)
	}
	defer f.Close()
	b, err := bundle.Read(f)
	var wrong *bundle.LineError
	switch {
	case errors.As(err, &wrong):
		return nil, &InvalidError{File: path, Line: wrong.Line, What: wrong.What, text: report.OneLine(path + ": " + wrong.Error())}
	case err != nil:
		return nil, ioError("read", path, err)
	case len(b.Readings) == 0:
		return nil, invalidBundle(path, "there is no reading in it")
	}
	if b.Cut && log != nil {
		log(report.OneLine(path) + ": the recording was cut off: it is taken as far as it goes, to " + b.End.String())
	}
	return b, nil
}

func invalidBundle(path, what string) *InvalidError {
	return &InvalidError{File: path, What: what, text: report.OneLine(path + ": " + what)}
}
