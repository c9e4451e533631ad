package cli

import (
	"io"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// reportFlags choose the acceptance report of one run.
type reportFlags struct {
	report, charts string

	reportTo, chartsTo io.Writer // nil: not wanted
	chartsAs           string
}

func (f *reportFlags) add(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.report, "report", "", "write the acceptance report to `FILE`, .html or .json")
	cmd.Flags().StringVar(&f.charts, "charts", "", "write the charts of the report to `FILE`, .svg or .png")
}

// wanted says whether the run has to bring a report.
func (f *reportFlags) wanted() bool { return f.report != "" || f.charts != "" }

// alone refuses them where there is more than one run.
func (f *reportFlags) alone(why string) error {
	switch {
	case f.report != "":
		return usagef("--report is for one run; %s", why)
	case f.charts != "":
		return usagef("--charts is for one run; %s", why)
	}
	return nil
}

func (f *reportFlags) open(files *outputs) (err error) {
	if ext := strings.ToLower(filepath.Ext(f.report)); f.report != "" && ext != ".html" && ext != ".json" {
		return usagef("--report %s: a report ends in .html or .json", filepath.Base(f.report))
	}
	if f.reportTo, err = files.open(f.report, 0o666); err != nil {
		return err
	}
	f.chartsTo, f.chartsAs, err = chartFile(files, "charts", f.charts)
	return err
}

// publish writes what is wanted of the run that o is.
func (f *reportFlags) publish(o outcome) error {
	result, ok := o.(*sim.Result)
	if !ok || !f.wanted() {
		return nil
	}
	report := result.Report()
	if f.reportTo != nil {
		write := report.HTML
		if strings.EqualFold(filepath.Ext(f.report), ".json") {
			write = report.JSON
		}
		if err := write(f.reportTo); err != nil {
			return err
		}
	}
	if f.chartsTo != nil {
		return report.Charts(f.chartsTo, f.chartsAs)
	}
	return nil
}
