package menu_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/tools/txtar"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/menu"
	"ridethrough/sim/internal/face/term/termtest"
)

var update = flag.Bool("update", false, "write the transcripts anew")

// TestTranscripts runs the dialogs in testdata. In each archive "in" holds what
// is typed, line by line, and "out" what the terminal shows, with commands to
// the engine in angle brackets. Besides plain lines there are ^C and ^D, and
// orders to the card behind it that begin with @ (see order).
func TestTranscripts(t *testing.T) {
	files, err := filepath.Glob("testdata/*.txtar")
	if err != nil || len(files) == 0 {
		t.Fatalf("no transcripts: %v", err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txtar"), func(t *testing.T) { transcript(t, file) })
	}
}

func transcript(t *testing.T, file string) {
	archive, err := txtar.ParseFile(file)
	if err != nil || len(archive.Files) != 2 {
		t.Fatalf("%s: want files in and out: %v", file, err)
	}
	got := play(t, string(archive.Files[0].Data))
	if *update {
		archive.Files[1].Data = []byte(got)
		if err := os.WriteFile(file, txtar.Format(archive), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if diff := cmp.Diff(strings.Split(string(archive.Files[1].Data), "\n"), strings.Split(got, "\n")); diff != "" {
		t.Errorf("transcript differs (-want +got; -update writes it anew):\n%s", diff)
	}
}

// terminal is a dialog with everything it showed.
type terminal struct {
	t     *testing.T
	card  *termtest.Source
	state menu.State
	out   menu.Output
	shown strings.Builder
}

func play(t *testing.T, script string) string {
	x := &terminal{t: t, card: termtest.New()}
	by := snap.Actor{Surface: "serial"}
	x.take(menu.Start(x.view(), by, 0))
	for _, line := range strings.Split(strings.TrimSuffix(script, "\n"), "\n") {
		if strings.HasPrefix(line, "@") {
			x.order(line)
			continue
		}
		if x.out.Close {
			t.Fatalf("%q typed after the end", line)
		}
		x.typed(line)
	}
	return x.shown.String() + "\n"
}

func (x *terminal) view() menu.View { return menu.View{Dev: x.card.Device(), Now: x.card.Now()} }

func (x *terminal) typed(line string) {
	if x.out.Hidden {
		x.shown.WriteString("(hidden)\n")
	} else {
		x.shown.WriteString(line + "\n")
	}
	switch line {
	case "^C":
		x.take(x.state.Interrupt(x.view()))
	case "^D":
		x.take(x.state.End(x.view()))
	default:
		x.take(x.state.Line(x.view(), line))
	}
}

func (x *terminal) take(s menu.State, out menu.Output) {
	for out.Command != nil || out.Try != nil {
		x.shown.WriteString(out.Text)
		if out.Try != nil {
			s, out = s.Tried(x.card.Device().Card.Verify(out.Try.User, out.Try.Password))
			continue
		}
		c := *out.Command
		fmt.Fprintf(&x.shown, "<%s by %s ok=%v", c.Op, c.By.User, c.OK)
		if c.Settings != nil {
			for _, change := range setting.Diff(&x.card.Device().Card.Saved, c.Settings) {
				fmt.Fprintf(&x.shown, " %s: %s", change.Path, change.Text())
			}
		}
		if c.Account != nil {
			fmt.Fprintf(&x.shown, " %s %s, %s", c.Text, c.Account.User, c.Account.Role)
		}
		x.shown.WriteString(">\n")
		result := x.card.Submit(c)
		s, out = s.Answer(x.view(), c, result)
	}
	x.shown.WriteString(out.Text + out.Prompt)
	if out.Close {
		fmt.Fprintf(&x.shown, "<closed locked=%v>", out.Locked)
	}
	x.state, x.out = s, out
}

// order does something to the card: @wait 5s, @on-battery, @searching,
// @refuse STATUS REASON, @saved-elsewhere.
func (x *terminal) order(line string) {
	parts := strings.SplitN(line, " ", 2)
	switch parts[0] {
	case "@wait":
		x.card.Advance(5 * vtime.Second)
	case "@on-battery":
		x.card.OnBattery()
	case "@searching":
		x.card.Change(func(d *snap.Device) { d.Card.Address = snap.Address{State: "searching"} })
	case "@saved-elsewhere":
		x.card.Change(func(d *snap.Device) { d.Card.Saved.Contact = "night desk" })
	case "@time-servers":
		x.card.Change(func(d *snap.Device) { d.Card.Clock.From, d.Card.Time = "a", termtest.TimeServers(d.Tick) })
	case "@probes":
		x.card.Change(termtest.Probes)
	case "@never-set":
		x.card.Change(func(d *snap.Device) { d.Card.Clock = snap.Clock{At: d.Tick} })
	case "@half-duplex":
		x.card.Change(func(d *snap.Device) {
			d.Card.Port = &snap.Port{Mode: snap.LinkAuto, Mbit: 100, Half: true, VLAN: 20, InErrors: 12, OutErrors: 34, LateCollisions: 34}
		})
	case "@spare":
		x.card.Change(func(d *snap.Device) {
			f := *snap.FirstFirmware()
			f.Spare().State, f.Spare().Release = snap.SlotState(parts[1]), &snap.Release{Version: "1.1"}
			d.Card.Firmware = &f
		})
	case "@busy":
		x.card.Refuse(snap.Result{Status: snap.Busy})
	case "@gone":
		x.card.Refuse(snap.Result{Status: snap.Gone})
	case "@wrong":
		x.card.Refuse(snap.Result{Status: snap.WrongValue, Reason: "the card has no room for it"})
	default:
		x.t.Fatalf("unknown order %q", line)
	}
}
