package journal

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/core/engine"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

var header = Header{Scenario: "a.toml", Source: "title = \"<a> \u00e9\"\nrun_for = \"1m\"\n", Variant: "v", Seed: 1<<63 - 1, RealLeases: true}

func commands() []engine.Entry {
	return []engine.Entry{
		{Tick: 0, Seq: 1, Command: snap.Command{Op: snap.OpSignIn, OK: true, By: snap.Actor{Surface: "ssh", User: "u", Peer: "p"}}},
		{Tick: 1500, Seq: 2, Command: snap.Command{Op: snap.OpSave, Settings: &snap.Settings{Name: "n", ReadCommunity: snap.NewSecret("(secret)")}}},
		{Tick: 1500, Seq: 3, Command: snap.Command{Op: snap.OpSet, Sets: []snap.Assignment{{Var: snap.VarShutdownAfter, Int: -1}}}},
	}
}

func written(t *testing.T) string {
	t.Helper()
	var b bytes.Buffer
	j := New(&b, header)
	fmt.Fprint(j, "first\n")
	list := commands()
	j.Command(list[0])
	fmt.Fprint(j, "second\nthird \"quoted\" \u2028\n")
	j.Command(list[1])
	j.Command(list[2])
	j.End(2000)
	if err := j.Err(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestReadsWhatWasWritten(t *testing.T) {
	got, err := Read(strings.NewReader(written(t)))
	if err != nil {
		t.Fatal(err)
	}
	want := &Journal{
		Header: header, Entries: commands(), End: 2000,
		Trace: []Line{{2, "first"}, {4, "second"}, {5, "third \"quoted\" \u2028"}},
	}
	want.Version = Version
	if diff := cmp.Diff(want, got, cmp.Comparer(func(a, b snap.Settings) bool { return a.Same(&b) })); diff != "" {
		t.Errorf("journal (-want +got):\n%s", diff)
	}
}

func TestRefusesWhatCannotBeReplayed(t *testing.T) {
	const head = `{"ridethrough_journal":1,"scenario":"a","source":"","seed":1}` + "\n"
	const end = `{"end":5}` + "\n"
	for _, c := range []struct{ name, text, want string }{
		{"nothing", "", "line 1: the journal is empty"},
		{"another file", "title = \"x\"\n", "line 1: this is not a journal"},
		{"a bundle", `{"ridethrough_bundle":1,"start":"2026-01-01T00:00:00Z"}` + "\n", "line 1: this is a bundle, not a journal: say with --as what to do with it, source or verbatim"},
		{"another JSON", "{}\n", "line 1: this is not a journal"},
		{"a later version", `{"ridethrough_journal":2}`, "line 1: the journal has version 2; this program reads version 1"},
		{"cut off at once", head, "line 1: the journal stops before anything was recorded"},
		{"cut off too late", head + `{"trace":"4000000000:00:00.000 x"}`, "line 2: tick 14400000000000000: expected at most 316224000000"},
		{"cut off in a line", head + `{"trace":"x`, "line 2: not a line of a journal: unexpected EOF"},
		{"two values", head + end + end, "line 3: something follows the end"},
		{"two in a line", head + `{"end":5}{"end":6}`, "line 2: not a line of a journal: more than one value"},
		{"an empty object", head + "{}\n", "line 2: neither a command, nor a line of the trace, nor the end"},
		{"two things at once", head + `{"trace":"x","end":3}`, "line 2: neither a command, nor a line of the trace, nor the end"},
		{"an unknown field", head + `{"trcae":"x"}`, `line 2: not a line of a journal: json: unknown field "trcae"`},
		{"no tick", head + `{"seq":1,"command":{"op":"restart","by":{"surface":"ssh"}}}`, "line 2: neither a command, nor a line of the trace, nor the end"},
		{"back in time", head + `{"tick":9,"seq":1,"command":{"op":"restart","by":{"surface":"ssh"}}}` + "\n" + end, "line 3: tick 5: expected 9 to 316224000000"},
		{"before the start", head + `{"end":-1}`, "line 2: tick -1: expected 0 to 316224000000"},
		{"without end", head + `{"end":9223372036854775807}`, "line 2: tick 9223372036854775807: expected 0 to 316224000000"},
		{"out of order", head + `{"tick":1,"seq":2,"command":{"op":"restart","by":{"surface":"ssh"}}}` + "\n" + `{"tick":1,"seq":2,"command":{"op":"restart","by":{"surface":"ssh"}}}`, "line 3: command 2 follows command 2"},
		{"save nothing", head + `{"tick":1,"seq":1,"command":{"op":"save","by":{"surface":"ssh"}}}`, "line 2: a command to save without settings"},
		{"a long line", head + `{"trace":"` + strings.Repeat("x", maxLine) + `"}`, fmt.Sprintf("line 2: more than %d bytes", maxLine)},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Read(strings.NewReader(c.text))
			var format *FormatError
			if !errors.As(err, &format) || err.Error() != c.want {
				t.Errorf("error %v, want %s", err, c.want)
			}
		})
	}
}

func TestPassesReadErrorsOn(t *testing.T) {
	broken := errors.New("broken")
	if _, err := Read(iotest.ErrReader(broken)); !errors.Is(err, broken) {
		t.Errorf("error %v, want %v", err, broken)
	}
}

// Without its last line a journal ends where its last event or command is.
func TestReadsWhatWasCutOff(t *testing.T) {
	const head = `{"ridethrough_journal":1,"scenario":"a","source":"","seed":1}` + "\n" + `{"trace":"# title"}` + "\n"
	const command = `{"tick":3000,"seq":1,"command":{"op":"restart","by":{"surface":"ssh"}}}` + "\n"
	for text, want := range map[string]vtime.Tick{
		head: 0, head + command: 3000,
		head + command + `{"trace":"1:02:03.004 card: x"}`: vtime.Hour + 2*vtime.Minute + 3*vtime.Second + 4,
		head + command + `{"trace":"0:00:03.000 = x"}`:     3000,
	} {
		if j, err := Read(strings.NewReader(text)); err != nil || !j.Cut || j.End != want {
			t.Errorf("%s: %+v, %v; want it to end at %d", text, j, err, want)
		}
	}
}

// A session that is killed has written what it knows: nothing waits in a buffer.
func TestEveryLineIsOneWrite(t *testing.T) {
	var writes []string
	j := New(writerFunc(func(p []byte) { writes = append(writes, string(p)) }), header)
	j.Command(commands()[0])
	fmt.Fprint(j, "first\nsecond\n")
	j.End(1)
	if len(writes) != 5 {
		t.Errorf("%d writes of 5 lines: %q", len(writes), writes)
	}
	for _, w := range writes {
		if strings.IndexByte(w, '\n') != len(w)-1 {
			t.Errorf("%q is not one line", w)
		}
	}
}

type writerFunc func([]byte)

func (f writerFunc) Write(p []byte) (int, error) { f(p); return len(p), nil }

type full struct{ left int }

func (f *full) Write(p []byte) (int, error) {
	if f.left--; f.left < 0 {
		return 0, io.ErrShortWrite
	}
	return len(p), nil
}

func TestTheFirstErrorSticks(t *testing.T) {
	w := &full{left: 1}
	j := New(w, header)
	if j.Err() != nil {
		t.Fatal(j.Err())
	}
	j.Command(commands()[0])
	w.left = 1
	j.End(1)
	if !errors.Is(j.Err(), io.ErrShortWrite) || w.left != 1 {
		t.Errorf("error %v, %d writes left; want the first error and no write after it", j.Err(), w.left)
	}
}

func TestChecker(t *testing.T) {
	recorded := []Line{{2, "a"}, {5, "b"}}
	for _, c := range []struct {
		name, replayed string
		recorded       []Line
		want           *Mismatch
	}{
		{"the same", "a\nb\n", recorded, nil},
		{"nothing of nothing", "", nil, nil},
		{"another line", "a\nc\nd\n", recorded, &Mismatch{Line: 5, Recorded: "b", Replayed: "c"}},
		{"less", "a\n", recorded, &Mismatch{Line: 5, Recorded: "b"}},
		{"more", "a\nb\nc\nd\n", recorded, &Mismatch{Line: 6, Replayed: "c"}},
		{"more than nothing", "a\n", nil, &Mismatch{Line: 2, Replayed: "a"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			check := (&Journal{Trace: c.recorded}).Checker()
			for line := range strings.Lines(c.replayed) {
				fmt.Fprint(check, line)
			}
			if diff := cmp.Diff(c.want, check.Mismatch()); diff != "" {
				t.Errorf("mismatch (-want +got):\n%s", diff)
			}
		})
	}
}

func TestCheckerOfWhatWasCutOff(t *testing.T) {
	recorded := &Journal{Trace: []Line{{2, "a"}, {5, "b"}}, Cut: true}
	for replayed, want := range map[string]*Mismatch{
		"a\nb\n": nil, "a\nb\nc\n": nil, "a\nc\n": {Line: 5, Recorded: "b", Replayed: "c"}, "a\n": {Line: 5, Recorded: "b"},
	} {
		check := recorded.Checker()
		fmt.Fprint(check, replayed)
		if diff := cmp.Diff(want, check.Mismatch()); diff != "" {
			t.Errorf("%q: mismatch (-want +got):\n%s", replayed, diff)
		}
	}
}

func TestMismatchReadsWell(t *testing.T) {
	for want, m := range map[string]Mismatch{
		`line 5: recorded "b", replayed "c"`:          {5, "b", "c"},
		`line 5: recorded "b", replayed nothing more`: {5, "b", ""},
	} {
		if got := m.Error(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// What is read is written back to the same journal, whatever came in.
func FuzzRead(f *testing.F) {
	const head = `{"ridethrough_journal":1,"scenario":"a","source":"","seed":1}` + "\n"
	f.Add([]byte(head + `{"trace":"x"}` + "\n" + `{"tick":1,"seq":1,"command":{"op":"inject","by":{"surface":"bench"},"text":"x"}}` + "\n" + `{"end":5}`))
	f.Add([]byte(head + `{"end":5}{"end":6}`))
	f.Add([]byte("{"))
	f.Fuzz(func(t *testing.T, text []byte) {
		j, err := Read(bytes.NewReader(text))
		if err != nil {
			var format *FormatError
			if !errors.As(err, &format) || format.Line < 1 {
				t.Fatalf("error %v", err)
			}
			return
		}
		again, err := Read(strings.NewReader(rewrite(j)))
		if err != nil {
			t.Fatalf("%v in\n%s", err, rewrite(j))
		}
		if rewrite(again) != rewrite(j) {
			t.Fatalf("first\n%s\nthen\n%s", rewrite(j), rewrite(again))
		}
	})
}

func rewrite(j *Journal) string {
	var b strings.Builder
	w := New(&b, j.Header)
	for _, l := range j.Trace {
		fmt.Fprint(w, strings.ReplaceAll(l.Text, "\n", " ")+"\n")
	}
	for _, e := range j.Entries {
		w.Command(e)
	}
	w.End(j.End)
	return b.String()
}
