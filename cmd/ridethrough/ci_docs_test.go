package main

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write what the commands of docs/ci.md print anew")

var repository = filepath.Join("..", "..")

// guide is docs/ci.md, whose commands are run in an empty folder beside a checkout.
type guide struct {
	t      *testing.T
	root   string // of the checkout
	folder string
	page   string
}

// docs/ci.md, followed word by word, leads to a red and a green job.
func TestGuideToCI(t *testing.T) {
	g := newGuide(t)
	for _, tool := range []string{"sh", "make", "snmpget", "snmpset", "diff", "sed", "go"} {
		g.need(tool)
	}
	g.shows("yaml", g.read("docs/ci/workflow.yaml"))
	g.shows("dockerfile", g.read("docs/ci/Containerfile"))
	difference, _ := exec.Command("diff", "-U1", g.path("docs/ci/guard.sh"), g.path("docs/ci/fixed/guard.sh")).Output()
	_, hunk, _ := strings.Cut(string(difference), "\n@@")
	_, hunk, _ = strings.Cut(hunk, "\n")
	g.shows("diff", hunk)
	g.follow()
	if *update {
		if err := os.WriteFile(g.path("docs/ci.md"), []byte(g.page), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

func newGuide(t *testing.T) *guide {
	t.Helper()
	root, err := filepath.Abs(repository)
	if err != nil {
		t.Fatal(err)
	}
	g := &guide{t: t, root: root, folder: t.TempDir()}
	g.page = g.read("docs/ci.md")
	if err := os.Symlink(root, filepath.Join(g.folder, "ridethrough")); err != nil {
		t.Fatal(err)
	}
	return g
}

func (g *guide) path(name string) string { return filepath.Join(g.root, filepath.FromSlash(name)) }

func (g *guide) read(name string) string {
	g.t.Helper()
	text, err := os.ReadFile(g.path(name))
	if err != nil {
		g.t.Fatal(err)
	}
	return string(text)
}

func (g *guide) need(tool string) {
	g.t.Helper()
	if _, err := exec.LookPath(tool); err != nil {
		if os.Getenv("CI") == "true" {
			g.t.Fatal(err)
		}
		g.t.Skip(err)
	}
}

// shows has the page show text in its only block of a kind.
func (g *guide) shows(kind, text string) {
	g.t.Helper()
	block := regexp.MustCompile("(?s)```" + kind + "\n(.*?)```")
	m := block.FindAllStringSubmatchIndex(g.page, -1)
	if len(m) != 1 {
		g.t.Fatalf("docs/ci.md has %d blocks of %s", len(m), kind)
	}
	if got := g.page[m[0][2]:m[0][3]]; got != text && !*update {
		g.t.Errorf("docs/ci.md, %s (-page +file):\n%s", kind, cmp.Diff(got, text))
	}
	g.page = g.page[:m[0][2]] + text + g.page[m[0][3]:]
}

// step is one command of the page.
type step struct {
	command string
	printed string
	code    string
}

var console = regexp.MustCompile("(?s)([^\n]*)\n\n```console\n(.*?)```")

// follow runs the commands of the page, in one shell as a reader does, and compares.
func (g *guide) follow() {
	g.t.Helper()
	blocks := console.FindAllStringSubmatchIndex(g.page, -1)
	var all []step
	var sizes []int
	for _, m := range blocks {
		steps := stepsOf(g.page[m[2]:m[3]], g.page[m[4]:m[5]])
		all, sizes = append(all, steps...), append(sizes, len(steps))
	}
	if len(all) < 10 {
		g.t.Fatalf("docs/ci.md has %d commands", len(all))
	}
	done := g.run(all)
	var page strings.Builder
	at := 0
	for i, m := range blocks {
		page.WriteString(g.page[at:m[4]])
		for range sizes[i] {
			g.compare(all[0], done[0])
			fmt.Fprintf(&page, "$ %s\n%s", all[0].command, shown(done[0].printed))
			all, done = all[1:], done[1:]
		}
		at = m[5]
	}
	page.WriteString(g.page[at:])
	g.page = page.String()
}

// stepsOf takes a block apart. The last of its commands ends with the code that the
// line before it says.
func stepsOf(before, block string) (steps []step) {
	for line := range strings.Lines(block) {
		if command, ok := strings.CutPrefix(line, "$ "); ok {
			steps = append(steps, step{command: strings.TrimSpace(command), code: "0"})
			continue
		}
		steps[len(steps)-1].printed += line
	}
	if m := regexp.MustCompile(`xit code (\d+)`).FindStringSubmatch(before); m != nil {
		steps[len(steps)-1].code = m[1]
	}
	return steps
}

func (g *guide) run(steps []step) (done []step) {
	g.t.Helper()
	dir := g.t.TempDir()
	var script strings.Builder
	for i, s := range steps {
		fmt.Fprintf(&script, "{ %s\n} >%s/%d 2>&1\necho $? >%s/%d.code\n", s.command, dir, i, dir, i)
	}
	cmd := exec.Command("sh", "-c", script.String())
	cmd.Dir = g.folder
	cmd.Env = append(os.Environ(), "GOWORK=", "GOFLAGS=", "MAKEFLAGS=", "MAKELEVEL=")
	if out, err := cmd.CombinedOutput(); err != nil {
		g.t.Fatalf("%v: %s", err, out)
	}
	for i, s := range steps {
		printed, err := os.ReadFile(filepath.Join(dir, strconv.Itoa(i)))
		code, err2 := os.ReadFile(filepath.Join(dir, strconv.Itoa(i)+".code"))
		if err != nil || err2 != nil {
			g.t.Fatalf("%s: %v, %v", s.command, err, err2)
		}
		done = append(done, step{s.command, string(printed), strings.TrimSpace(string(code))})
	}
	return done
}

func (g *guide) compare(page, real step) {
	g.t.Helper()
	if page.code != real.code {
		g.t.Errorf("%s: exit code %s, docs/ci.md says %s\n%s", real.command, real.code, page.code, real.printed)
	}
	if diff := cmp.Diff(strings.Split(alike(page.printed), "\n"), strings.Split(alike(real.printed), "\n")); diff != "" && !*update {
		g.t.Errorf("%s (-docs/ci.md +real):\n%s", real.command, diff)
	}
}

var (
	readyLine = regexp.MustCompile(`\{"ridethrough_ready":1,.*\}`)
	spent     = regexp.MustCompile(`\d+\.\d+s\b`)
	ofMake    = regexp.MustCompile(`(?m)^make: \*\*\* .*`)
)

// shown is what was printed without what no reader has to see.
func shown(printed string) string {
	return readyLine.ReplaceAllString(printed, `{"ridethrough_ready":1, ...}`)
}

// alike is what was printed without what differs from machine to machine.
func alike(printed string) string {
	return ofMake.ReplaceAllString(spent.ReplaceAllString(shown(printed), "#s"), "make: ***")
}

// Every scenario and quirk that the page names is there.
func TestGuideToCINamesWhatThereIs(t *testing.T) {
	g := newGuide(t)
	quirks := g.read("docs/quirks.md")
	_, suite, _ := strings.Cut(g.page, "## The least that a suite should cover")
	files := regexp.MustCompile(`[a-z0-9][a-z0-9-]*\.toml`).FindAllString(suite, -1)
	if len(files) < 20 {
		t.Errorf("%d files", len(files))
	}
	for _, name := range files {
		found := false
		for _, folder := range []string{"scenarios", "scenarios/incidents", "docs/ci"} {
			_, err := os.Stat(filepath.Join(g.path(folder), name))
			found = found || err == nil
		}
		if !found {
			t.Errorf("there is no %s", name)
		}
	}
	for _, m := range regexp.MustCompile("quirk `([a-z-]+)`").FindAllStringSubmatch(suite, -1) {
		if !strings.Contains(quirks, "\n| `"+m[1]+"` |") {
			t.Errorf("there is no quirk %s", m[1])
		}
	}
}

// The recipe for a program that runs all the time: the program finds the card, its end
// is the session's, the code is the verdict. A session that does not begin ends it too,
// with its own code.
func TestBackgroundRecipe(t *testing.T) {
	g := newGuide(t)
	for _, tool := range []string{"sh", "jq", "snmpget"} {
		g.need(tool)
	}
	m := regexp.MustCompile("(?s)```sh\n(mkdir[^`]*session=[^`]*)```").FindStringSubmatch(g.page)
	if m == nil {
		t.Fatal("docs/ci.md has no such recipe")
	}
	const program = `#!/bin/sh
[ "$1$3" = --card--community ] && snmpget -v2c -c "$4" -Oqv "$2" 1.3.6.1.2.1.33.1.4.1.0 >read
exec ridethrough send --ready-file ready.json --end
`
	play := func(site, recipe string) (code int, folder string) {
		t.Helper()
		folder = t.TempDir()
		for name, text := range map[string]string{"your-program": program, "site.toml": site} {
			if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o777); err != nil {
				t.Fatal(err)
			}
		}
		cmd := exec.Command("sh", "-c", recipe)
		cmd.Dir = folder
		cmd.Env = append(os.Environ(), "PATH="+folder+string(os.PathListSeparator)+os.Getenv("PATH"))
		out, err := cmd.CombinedOutput()
		if cmd.ProcessState == nil {
			t.Fatalf("%v: %s", err, out)
		}
		return cmd.ProcessState.ExitCode(), folder
	}
	code, folder := play(g.read("docs/ci/site.toml"), m[1])
	read, _ := os.ReadFile(filepath.Join(folder, "read"))
	report, _ := os.ReadFile(filepath.Join(folder, "out", "site.xml"))
	if code != 1 || !regexp.MustCompile(`^[235]\n$`).Match(read) || !strings.Contains(string(report), `tests="3"`) {
		t.Errorf("code %d, the program read %q; the report: %s", code, read, report)
	}
	code, folder = play("no = 1\n", strings.Replace(m[1], "wait --ready", "wait --timeout 100ms --ready", 1))
	if _, err := os.Stat(filepath.Join(folder, "read")); code != 2 || err == nil {
		t.Errorf("without a session: code %d, and the program was started: %v", code, err == nil)
	}
}

// The step of the workflow that plays the outage does so in a checkout of the example.
func TestWorkflowRunner(t *testing.T) {
	g := newGuide(t)
	for _, tool := range []string{"sh", "make", "snmpget", "snmpset"} {
		g.need(tool)
	}
	play := regexp.MustCompile(`(?m)^ +run: (.*make)$`).FindStringSubmatch(g.read("docs/ci/workflow.yaml"))
	if play == nil {
		t.Fatal("the workflow does not play")
	}
	work := filepath.Join(g.folder, "work")
	if err := os.CopyFS(work, os.DirFS(g.path("docs/ci"))); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command("sh", "-ec", play[1])
	cmd.Dir = work
	out, err := cmd.CombinedOutput()
	report, _ := os.ReadFile(filepath.Join(work, "out", "site.toml.xml"))
	if err == nil || !strings.Contains(string(report), `tests="3" failures="1"`) {
		t.Errorf("%v: %s\n%s", err, out, report)
	}
}

// The example plays from anywhere, and its charts are those that the page shows.
func TestExampleOfCI(t *testing.T) {
	g := newGuide(t)
	for _, tool := range []string{"sh", "snmpget", "snmpset"} {
		g.need(tool)
	}
	charts := filepath.Join(g.folder, "charts.svg")
	cmd := exec.Command("ridethrough", "serve", "--paused", "--quiet", "--charts", charts, "docs/ci/site.toml", "--", "sh", "docs/ci/test.sh")
	cmd.Dir = g.root
	out, err := cmd.CombinedOutput()
	if cmd.ProcessState == nil || cmd.ProcessState.ExitCode() != 1 {
		t.Fatalf("%v: %s", err, out)
	}
	drawn, err := os.ReadFile(charts)
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		if err := os.WriteFile(g.path("docs/ci-red.svg"), drawn, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if g.read("docs/ci-red.svg") != string(drawn) {
		t.Error("docs/ci-red.svg is another one; -update draws it anew")
	}
}

// The static file of the container: one file, below 30 MB, that needs nothing beside it.
func TestStaticFile(t *testing.T) {
	g := newGuide(t)
	g.need("go")
	said := regexp.MustCompile(`CGO_ENABLED=0 go build (.*) -ldflags='(.*)' -o (\S+) \./cmd/ridethrough`)
	for _, name := range []string{"docs/ci.md", "docs/ci/Containerfile", "docs/ci/workflow.yaml"} {
		m := said.FindStringSubmatch(g.read(name))
		if m == nil || m[1] != "-tags minimal,nethttpomithttp2" || m[2] != "-s -w" {
			t.Errorf("%s builds by %q", name, m)
		}
	}
	path := filepath.Join(g.folder, "static")
	build := exec.Command("go", "build", "-tags", "minimal,nethttpomithttp2", "-ldflags=-s -w", "-o", path, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	info, err := os.Stat(path)
	if err != nil || info.Size() >= 30_000_000 {
		t.Errorf("%v: %d octets, expected less than 30 MB", err, info.Size())
	}
	if out, err := bare(path, "run", "--quiet").CombinedOutput(); err != nil {
		t.Errorf("%v\n%s", err, out)
	}
}
