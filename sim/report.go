package sim

import (
	"io"
	"runtime/debug"

	"ridethrough/sim/internal/core/dossier"
	"ridethrough/sim/internal/core/figure"
)

// Report is the acceptance report of one run: what was expected and what came of it, the
// course of the run in charts, site and settings, what was not tested, and room for
// signatures. The same run gives the same bytes.
type Report struct{ dossier *dossier.Dossier }

// Report is the report of the run, nil if it was played without the option Report.
func (r *Result) Report() *Report {
	if r.dossier == nil {
		return nil
	}
	return &Report{r.dossier}
}

// HTML writes one page that needs nothing else and prints well.
func (r *Report) HTML(w io.Writer) error { return r.dossier.HTML(w) }

// JSON writes the same as docs/json.md describes it.
func (r *Report) JSON(w io.Writer) error { return r.dossier.JSON(w) }

// Charts writes the charts of the report in a format, "svg" or "png".
func (r *Report) Charts(w io.Writer, format string) error {
	return r.dossier.Charts.Write(w, figure.Format(format))
}

// Version is what the build knows of itself.
func Version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" {
		return "(unknown version)"
	}
	return info.Main.Version
}

func program() string { return "ridethrough " + Version() }
