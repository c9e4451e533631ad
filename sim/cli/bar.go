package cli

import (
	"os"
	"strconv"
	"time"

	"github.com/jedib0t/go-pretty/v6/progress"
)

// bar shows how far a study has come, on a terminal only.
type bar struct {
	writer  progress.Writer // nil: there is no terminal
	tracker *progress.Tracker
	done    chan struct{}
}

// newBar is one on standard error.
func (a *app) newBar() *bar {
	f, ok := a.err.(*os.File)
	if !ok || a.env("TERM") == "dumb" || !isTerminal(f) {
		return &bar{}
	}
	w := progress.NewWriter()
	w.SetOutputWriter(f)
	w.SetUpdateFrequency(100 * time.Millisecond)
	w.SetTrackerLength(30)
	w.SetNumTrackersExpected(1)
	w.Style().Visibility.ETA = true
	w.Style().Options.DoneString, w.Style().Options.ErrorString = "played", "stopped"
	return &bar{writer: w}
}

func isTerminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0 && f.Name() != os.DevNull
}

// show is called from one goroutine.
func (b *bar) show(played, all int) {
	if b.writer == nil {
		return
	}
	if b.tracker == nil {
		b.tracker = &progress.Tracker{Message: "runs", Total: int64(all), Units: progress.Units{Formatter: func(n int64) string { return strconv.FormatInt(n, 10) }}}
		b.writer.AppendTracker(b.tracker)
		b.done = make(chan struct{})
		go func() {
			b.writer.Render()
			close(b.done)
		}()
	}
	b.tracker.SetValue(int64(played))
}

// end leaves the bar as it is.
func (b *bar) end() {
	if b.tracker == nil {
		return
	}
	if b.tracker.Value() < b.tracker.Total {
		b.tracker.MarkAsErrored()
	} else {
		b.tracker.MarkAsDone()
	}
	b.writer.Stop()
	<-b.done
}
