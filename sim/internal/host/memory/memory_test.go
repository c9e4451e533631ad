package memory

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"ridethrough/sim/internal/checks"
	"ridethrough/sim/internal/core/snap"
)

func TestMain(m *testing.M) { checks.Main(m) }

func sections(pairs ...string) *snap.Keep {
	k := &snap.Keep{Sections: map[string]json.RawMessage{}}
	for i := 0; i < len(pairs); i += 2 {
		k.Sections[pairs[i]] = json.RawMessage(pairs[i+1])
	}
	return k
}

func entries(from uint64, seqs ...uint64) *snap.Keep {
	l := snap.LogKeep{Name: "journal", From: from}
	for _, s := range seqs {
		l.Entries = append(l.Entries, snap.LogEntry{Seq: s, Value: json.RawMessage(fmt.Sprint(s))})
	}
	return &snap.Keep{Logs: []snap.LogKeep{l}}
}

func open1(t *testing.T, dir string) *Store {
	t.Helper()
	s, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func read1(t *testing.T, s *Store, serial string) *snap.Memory {
	t.Helper()
	m, err := s.Read(serial)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// kept keeps k and returns when that was promised.
func kept(t *testing.T, s *Store, serial string, k *snap.Keep) {
	t.Helper()
	done := make(chan struct{})
	s.Card(serial).Keep(k, func() { close(done) })
	<-done
}

// TestKeepsSectionsAndLogs: what was kept is there for the next process, of each
// card its own; what was taken out is not; what nobody knows stays.
func TestKeepsSectionsAndLogs(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "made", "here")
	s := open1(t, dir)
	if m := read1(t, s, "A"); m != nil {
		t.Fatalf("a new memory knows %+v", m)
	}
	if err := s.Start(map[string]*snap.Keep{"A": sections("boots", "1", "of-the-future", `{"x":1}`), "B": sections("boots", "7")}); err != nil {
		t.Fatal(err)
	}
	s.Begin(func(err error) { t.Error(err) })
	kept(t, s, "A", entries(1, 1, 2, 3))
	kept(t, s, "A", sections("boots", "2", "key", `"k"`))
	kept(t, s, "A", entries(3, 4, 5))
	drop := sections("boots", "3")
	drop.Sections["key"] = nil
	kept(t, s, "A", drop)
	if m := read1(t, s, "A"); !m.Cut {
		t.Error("nothing tells that a process serves the card")
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	again := open1(t, dir)
	want := &snap.Memory{
		Sections: map[string]json.RawMessage{"boots": json.RawMessage("3"), "of-the-future": json.RawMessage(`{"x":1}`)},
		Logs:     map[string][]snap.LogEntry{"journal": entries(0, 3, 4, 5).Logs[0].Entries},
	}
	if diff := cmp.Diff(want, read1(t, again, "A")); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if m := read1(t, again, "B"); string(m.Sections["boots"]) != "7" {
		t.Errorf("B has %+v", m)
	}
	if list, err := again.Serials(); err != nil || !cmp.Equal(list, []string{"A", "B"}) {
		t.Error(list, err)
	}
}

// TestSecretsAreTheirOwners: nobody else may read what is in the file.
func TestSecretsAreTheirOwners(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "state")
	s := open1(t, dir)
	for path, want := range map[string]os.FileMode{dir: 0o700, s.Path(): 0o600} {
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != want {
			t.Errorf("%s: %v, %v; want %v", path, info.Mode(), err, want)
		}
	}
}

// TestLeftOvers: what a process left that was killed while it made the file goes.
func TestLeftOvers(t *testing.T) {
	dir := t.TempDir()
	left := filepath.Join(dir, unfinished+"123")
	if err := os.MkdirAll(filepath.Join(left, "x"), 0o700); err != nil {
		t.Fatal(err)
	}
	open1(t, dir)
	if _, err := os.Stat(left); err == nil {
		t.Error("it is still there")
	}
}

// TestRewrite: a change in its place leaves what was there before in the file, and
// Rewrite does not. All else stays, and the new file is as closed to others as the old.
func TestRewrite(t *testing.T) {
	const word = "a word that was put away"
	dir := t.TempDir()
	holds := func() bool {
		text, err := os.ReadFile(filepath.Join(dir, file))
		if err != nil {
			t.Fatal(err)
		}
		return bytes.Contains(text, []byte(word))
	}
	s := open1(t, dir)
	if err := s.Start(map[string]*snap.Keep{"A": sections("settings", `"`+word+`"`, "boots", "4"), "B": entries(1, 1, 2)}); err != nil {
		t.Fatal(err)
	}
	if err := s.Card("A").Change(sections("settings", `"x"`)); err != nil || !holds() {
		t.Fatalf("a change in its place leaves nothing (%v): what is looked for cannot be found", err)
	}
	if err := s.Rewrite("A", sections("settings", `"y"`)); err != nil || holds() {
		t.Errorf("%v; the word stands in the file: %v", err, holds())
	}
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), "another process") {
		t.Errorf("the new file is open to others: %v", err)
	}
	if err := s.Rewrite("A", sections("boots", "5")); err != nil {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	again := open1(t, dir)
	if m := read1(t, again, "A"); string(m.Sections["settings"]) != `"y"` || string(m.Sections["boots"]) != "5" {
		t.Errorf("A has %+v", m)
	}
	if m := read1(t, again, "B"); len(m.Logs["journal"]) != 2 {
		t.Errorf("B has %+v", m)
	}
	list, _ := os.ReadDir(dir)
	if info, err := os.Stat(again.Path()); err != nil || info.Mode().Perm() != 0o600 || len(list) != 1 {
		t.Errorf("%v, %v, %v", info.Mode(), err, list)
	}
}

// TestManyStartAtOnce: one of them gets the memory, the others a line.
func TestManyStartAtOnce(t *testing.T) {
	dir := t.TempDir()
	opened := make(chan *Store, 8)
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			s, err := Open(dir)
			if err == nil {
				opened <- s
			} else if !strings.Contains(err.Error(), "another process") {
				t.Error(err)
			}
		})
	}
	all.Wait()
	if len(opened) != 1 {
		t.Errorf("%d have it", len(opened))
	}
	(<-opened).Close()
}

// TestOneProcess: a second one gets one line at once, and disturbs nothing.
func TestOneProcess(t *testing.T) {
	dir := t.TempDir()
	s := open1(t, dir)
	_, err := Open(dir)
	var e *Error
	if !errors.As(err, &e) || !strings.Contains(err.Error(), "another process") || strings.Contains(err.Error(), "\n") {
		t.Errorf("%v", err)
	}
	if err := s.Start(map[string]*snap.Keep{"A": sections("boots", "1")}); err != nil {
		t.Error(err)
	}
}

// TestManyAtOnce: everybody who waits is answered, with what he kept in the file.
func TestManyAtOnce(t *testing.T) {
	dir := t.TempDir()
	s := open1(t, dir)
	s.Begin(func(err error) { t.Error(err) })
	var all sync.WaitGroup
	for i := range 8 {
		all.Go(func() {
			serial := fmt.Sprint("card ", i)
			for n := range uint64(25) {
				kept(t, s, serial, sections("n", fmt.Sprint(n)))
				kept(t, s, serial, entries(1, n+1))
				if m := read1(t, s, serial); string(m.Sections["n"]) != fmt.Sprint(n) {
					t.Errorf("%s was promised %d and holds %s", serial, n, m.Sections["n"])
				}
			}
		})
	}
	all.Wait()
	s.Close()
	again := open1(t, dir)
	for i := range 8 {
		if m := read1(t, again, fmt.Sprint("card ", i)); len(m.Logs["journal"]) != 25 {
			t.Errorf("card %d has %d entries", i, len(m.Logs["journal"]))
		}
	}
}

// TestEntriesThatWaitAreBounded: fewer than may be lost, however many come.
func TestEntriesThatWaitAreBounded(t *testing.T) {
	s := open1(t, t.TempDir())
	s.Begin(func(err error) { t.Error(err) })
	seq := uint64(0)
	for range 200 {
		var batch []uint64
		for range 50 {
			seq++
			batch = append(batch, seq)
		}
		kept(t, s, "A", entries(1, batch...))
		s.mu.Lock()
		if s.entries >= snap.MostLost {
			t.Errorf("%d entries wait", s.entries)
		}
		s.mu.Unlock()
	}
}

// TestFailureIsNoPromise: what cannot be written is told once and promised to
// nobody, also later.
func TestFailureIsNoPromise(t *testing.T) {
	s := open1(t, t.TempDir())
	failed := make(chan error, 2)
	s.Begin(func(err error) { failed <- err })
	s.db.Close() // as if the disk had gone
	promised := func() { t.Error("promised what was not kept") }
	s.Card("A").Keep(sections("boots", "1"), promised)
	var e *Error
	if err := <-failed; !errors.As(err, &e) || e.Op != "write" {
		t.Errorf("%v", err)
	}
	s.Card("A").Keep(sections("boots", "2"), promised)
	for range 3 * enough { // nobody is left waiting for room either
		s.Card("A").Keep(entries(1, 1), func() {})
	}
	s.Close()
	if len(failed) > 0 {
		t.Error("told twice")
	}
}

// TestDamagedFile: whatever is wrong with the file, opening it ends with one line
// or with a memory that can be read, and a refused file stays as it was.
func TestDamagedFile(t *testing.T) {
	dir := t.TempDir()
	s := open1(t, dir)
	s.Begin(func(err error) { t.Error(err) })
	for i := range uint64(200) {
		kept(t, s, "A", entries(1, i+1))
		kept(t, s, "A", sections(fmt.Sprint("section", i%7), fmt.Sprintf("%q", strings.Repeat("x", int(i)))))
	}
	s.Close()
	whole, err := os.ReadFile(filepath.Join(dir, file))
	if err != nil {
		t.Fatal(err)
	}
	dice, refused := rand.New(rand.NewPCG(1, 2)), 0
	for i := range 150 {
		text := bytes.Clone(whole)
		switch i % 3 {
		case 0:
			text = text[:dice.IntN(len(text))]
		case 1:
			for range 1 + dice.IntN(50) {
				text[dice.IntN(len(text))] ^= byte(1 + dice.IntN(255))
			}
		case 2:
			at := 4096 * dice.IntN(len(text)/4096)
			clear(text[at : at+4096])
		}
		if !survives(t, text) {
			refused++
		}
	}
	if refused < 30 {
		t.Errorf("only %d of 150 damaged files were refused", refused)
	}
}

// survives says whether a file with that text opens.
func survives(t *testing.T, text []byte) bool {
	t.Helper()
	dir := t.TempDir()
	path := filepath.Join(dir, file)
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir)
	if err == nil {
		s.Read("A")
		s.Start(map[string]*snap.Keep{"A": entries(150, 201)}) // which may find what reading does not
		s.Close()
		return true
	}
	if strings.Contains(err.Error(), "\n") || len(err.Error()) > 400 {
		t.Errorf("not one line: %v", err)
	}
	if after, _ := os.ReadFile(path); !bytes.Equal(after, text) {
		t.Error("a refused file was changed")
	}
	return false
}

// TestNewerFormat: a file that a later program wrote is refused.
func TestNewerFormat(t *testing.T) {
	dir := t.TempDir()
	s := open1(t, dir)
	tx, err := s.db.Begin(true)
	if err != nil {
		t.Fatal(err)
	}
	tx.Bucket(metaBucket).Put(formatKey, []byte("2"))
	tx.Commit()
	s.Close()
	if _, err := Open(dir); err == nil || !strings.Contains(err.Error(), `format "2"`) {
		t.Errorf("%v", err)
	}
}

// FuzzCheckPages: no file keeps the check busy or ends it with a fault.
func FuzzCheckPages(f *testing.F) {
	dir := f.TempDir()
	s, err := Open(dir)
	if err != nil {
		f.Fatal(err)
	}
	if err := s.Start(map[string]*snap.Keep{"A": sections("boots", "1", "x", "2")}); err != nil {
		f.Fatal(err)
	}
	s.Close()
	whole, err := os.ReadFile(filepath.Join(dir, file))
	if err != nil {
		f.Fatal(err)
	}
	whole = whole[:bytes.LastIndexFunc(whole, func(r rune) bool { return r != 0 })/4096*4096+4096]
	f.Add(uint32(5000), byte(7), uint32(9000), byte(255))
	f.Fuzz(func(t *testing.T, at uint32, b byte, at2 uint32, b2 byte) {
		text := bytes.Clone(whole)
		text[8192+int(at)%(len(text)-8192)] = b // behind the two beginnings, which have sums
		text[8192+int(at2)%(len(text)-8192)] = b2
		checkPages(text)
		checkPages(text[:int(at)%len(text)])
	})
}
