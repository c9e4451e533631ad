package proc

import (
	"bytes"
	"os"
	"os/exec"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"ridethrough/sim/internal/checks"
)

func TestMain(m *testing.M) { checks.Main(m) }

type ends struct {
	ch chan string
}

func newEnds() ends                     { return ends{ch: make(chan string, 8)} }
func (e ends) report(run Run, code int) { e.ch <- run.Host + " " + strconv.Itoa(code) }

func (e ends) wait(t *testing.T) string {
	t.Helper()
	select {
	case s := <-e.ch:
		return s
	case <-time.After(30 * time.Second):
		t.Fatal("no program ended within 30 s")
		return ""
	}
}

func needShell(t *testing.T) {
	t.Helper()
	if _, err := exec.LookPath("sh"); err != nil {
		t.Skip("no shell here")
	}
}

func TestReportsAnEndOfItsOwn(t *testing.T) {
	needShell(t)
	e := newEnds()
	var out syncBuffer
	t.Setenv("RIDETHROUGH_TOKEN", "for the bench only")
	r := New(t.TempDir(), []string{"RIDETHROUGH_SNMP=127.0.0.1:1"}, &out, e.report)
	if err := r.Start(Run{Host: "db"}, []string{"sh", "-c", `echo "$RIDETHROUGH_SNMP $RIDETHROUGH_TOKEN."; exit 3`}); err != nil {
		t.Fatal(err)
	}
	if got := e.wait(t); got != "db 3" {
		t.Errorf("report %q, want db 3", got)
	}
	r.Close()
	if got := out.String(); got != "db: 127.0.0.1:1 .\n" {
		t.Errorf("output %q", got)
	}
}

func TestKillTakesEverythingWithItAndReportsNothing(t *testing.T) {
	needShell(t)
	e := newEnds()
	var out syncBuffer
	r := New(t.TempDir(), nil, &out, e.report)
	if err := r.Start(Run{Host: "db"}, []string{"sh", "-c", `trap "" TERM; sleep 600 & echo $!; wait`}); err != nil {
		t.Fatal(err)
	}
	grandchild := out.firstNumber(t)
	r.Kill("db")
	r.Close()
	if stat := stillRuns(grandchild); stat != "" {
		t.Errorf("what the program started still runs: %s", stat)
	}
	select {
	case got := <-e.ch:
		t.Errorf("a killed program was reported: %q", got)
	default:
	}
}

// What has left the group of its program, and holds its output, goes as well, also while it
// becomes another program, as it does here about when it is killed.
func TestKillFindsWhatHasLeftTheGroup(t *testing.T) {
	needShell(t)
	if _, err := exec.LookPath("setsid"); err != nil {
		t.Skip("no setsid here")
	}
	for range 10 {
		killEscaped(t)
	}
}

func killEscaped(t *testing.T) {
	var out syncBuffer
	r := New(t.TempDir(), nil, &out, newEnds().report)
	if err := r.Start(Run{Host: "db"}, []string{"sh", "-c", `setsid sh -c 'echo $$; exec sleep 600' & wait`}); err != nil {
		t.Fatal(err)
	}
	escaped := out.firstNumber(t)
	r.Kill("db")
	r.Close()
	if stat := stillRuns(escaped); stat != "" {
		t.Errorf("what left the group still runs: %s", stat)
	}
}

// A line too long to show is cut, and the next one is shown.
func TestLongLineIsCut(t *testing.T) {
	needShell(t)
	e := newEnds()
	var out syncBuffer
	r := New(t.TempDir(), nil, &out, e.report)
	if err := r.Start(Run{Host: "db"}, []string{"sh", "-c", `head -c 70000 /dev/zero | tr '\0' x; echo; echo after`}); err != nil {
		t.Fatal(err)
	}
	e.wait(t)
	r.Close()
	if got := out.String(); !strings.HasSuffix(got, "x\ndb: after\n") || len(got) > 2*longest {
		t.Errorf("output of %d bytes ends with %q", len(got), got[max(0, len(got)-30):])
	}
}

// stillRuns is what the system says of a process that does not end. One that was
// killed may need a moment to; an orphan that nobody reaps still has an entry.
func stillRuns(pid int) string {
	for deadline := time.Now().Add(30 * time.Second); ; {
		stat, err := os.ReadFile("/proc/" + strconv.Itoa(pid) + "/stat")
		if err != nil || strings.Contains(string(stat), ") Z ") {
			return ""
		}
		if time.Now().After(deadline) {
			return string(stat)
		}
		runtime.Gosched()
	}
}

func TestStartsAgainAfterKill(t *testing.T) {
	needShell(t)
	e := newEnds()
	r := New(t.TempDir(), nil, &syncBuffer{}, e.report)
	defer r.Close()
	for range 20 {
		if err := r.Start(Run{Host: "db"}, []string{"sleep", "600"}); err != nil {
			t.Fatal(err)
		}
		r.Kill("db")
	}
	if err := r.Start(Run{Host: "db"}, []string{"true"}); err != nil {
		t.Fatal(err)
	}
	if got := e.wait(t); got != "db 0" {
		t.Errorf("report %q, want db 0", got)
	}
}

func TestSaysWhatCannotStart(t *testing.T) {
	r := New(t.TempDir(), nil, &syncBuffer{}, newEnds().report)
	defer r.Close()
	if err := r.Start(Run{Host: "db"}, []string{"./no-such-program"}); err == nil || !strings.Contains(err.Error(), "host db") {
		t.Errorf("error %v, want one that names the host", err)
	}
}

// A program that leaves a child behind with its output open has still ended.
func TestEndIsSeenThoughAChildKeepsTheOutput(t *testing.T) {
	needShell(t)
	e := newEnds()
	r := New(t.TempDir(), nil, &syncBuffer{}, e.report)
	if err := r.Start(Run{Host: "db"}, []string{"sh", "-c", "sleep 600 & exit 0"}); err != nil {
		t.Fatal(err)
	}
	if got := e.wait(t); got != "db 0" {
		t.Errorf("report %q, want db 0", got)
	}
	r.Close()
}

type syncBuffer struct {
	mu   sync.Mutex
	buf  bytes.Buffer
	once sync.Once
	line chan struct{}
}

func (b *syncBuffer) ready() chan struct{} {
	b.once.Do(func() { b.line = make(chan struct{}, 64) })
	return b.line
}

func (b *syncBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.buf.Write(p)
	select {
	case b.ready() <- struct{}{}:
	default:
	}
	return len(p), nil
}

func (b *syncBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buf.String()
}

func (b *syncBuffer) firstNumber(t *testing.T) int {
	t.Helper()
	select {
	case <-b.ready():
	case <-time.After(30 * time.Second):
		t.Fatal("no output within 30 s")
	}
	n, err := strconv.Atoi(strings.TrimPrefix(strings.TrimSpace(b.String()), "db: "))
	if err != nil || syscall.Kill(n, 0) != nil {
		t.Fatalf("output %q is not the id of a process", b.String())
	}
	return n
}
