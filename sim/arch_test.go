package sim_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The rules of the house. A room imports only rooms below it, or beside it
// where named.

const module = "ridethrough/"

// floor is what packages at and under path may import. Of several floors the
// longest path counts. A package a/... means a and those under it.
type floor struct {
	path   string
	ours   []string // packages of this module that it may import
	theirs []string // packages of other modules that it may import
	not    []string // packages of the standard library that it may not
	why    string
}

var (
	files   = []string{"os/...", "net", "net/http/...", "syscall", "log/..."}
	dice    = []string{"math/rand/...", "crypto/rand"}
	moments = []string{"time", "io/...", "sync/...", "context"}

	forPhysics = []string{"sim/internal/phys/..."}
	forCore    = []string{"sim/internal/phys/...", "sim/internal/core/..."}
	forFaces   = []string{"sim/internal/core/snap", "sim/internal/core/setting", "sim/internal/core/backup", "sim/internal/core/image", "sim/internal/core/vtime",
		"sim/internal/core/schedule", // arithmetic on the calendar, which the menu shows
		"sim/internal/face/..."}
	forHosts = []string{"sim/internal/core/...", "sim/internal/face/...", "sim/internal/host/..."}
)

// lent are packages that are banned for everybody else.
var lent = map[string][]string{
	"flag":   {"sim/internal/drawn"},      // the flags are those of a library that tests draw with
	"unsafe": {"sim/internal/host/batch"}, // several datagrams in one system call: a third less work for a request
}

// banned are packages of the standard library for nobody.
var banned = map[string]string{
	"unsafe":   "memory is the compiler's business",
	"C":        "everything is Go: one binary for every machine",
	"flag":     "sim/cli parses flags, with a package of its own",
	"log":      "what is said goes through the writer that one was given",
	"log/slog": "what is said goes through the writer that one was given",
	"plugin":   "everything is in one binary",
}

var floors = []floor{
	{"sim/internal/phys", forPhysics, nil, slices.Concat(files, dice, moments),
		"physics is values in, values out: time and chance arrive as arguments"},
	{"sim/internal/core", forCore, nil, slices.Concat(files, dice),
		"the core is deterministic: no descriptors, no dice"},
	{"sim/internal/core/rng", nil, nil, slices.Concat(files, []string{"time", "crypto/rand", "math/rand"}),
		"named streams of one seed are the only dice"},
	{"sim/internal/core/snap", forCore, []string{"golang.org/x/crypto/argon2"}, slices.Concat(files, dice),
		"what passes between rooms; passwords are checked where accounts are, by surfaces that do not hash"},
	{"sim/internal/core/setting", forCore, []string{"github.com/agext/levenshtein"}, slices.Concat(files, dice),
		"the one table of what can be set on the card"},
	{"sim/internal/core/scenario", forCore, []string{"github.com/pelletier/go-toml/v2/..."}, slices.Concat(files, dice),
		"the reader of scenarios gets bytes, not files"},
	{"sim/internal/core/backup", []string{"sim/internal/core/snap", "sim/internal/core/setting"}, []string{"github.com/pelletier/go-toml/v2/..."}, slices.Concat(files, dice),
		"what a person saves of a card is TOML, as scenarios are: it knows settings and nothing of sites"},
	{"sim/internal/core/expect", forCore, []string{"github.com/expr-lang/expr/...", "github.com/agext/levenshtein"}, slices.Concat(files, dice),
		"the one reader of conditions"},
	{"sim/internal/core/fit", forCore, []string{"gonum.org/v1/gonum/mat"}, slices.Concat(files, dice),
		"the one place that solves equations"},
	{"sim/internal/core/figure", forCore, []string{"gonum.org/v1/plot/..."}, slices.Concat(files, dice),
		"the one place that draws"},
	{"sim/internal/core/report", forCore, []string{"github.com/jstemmer/go-junit-report/v2/junit"}, slices.Concat(files, dice),
		"the one writer of results"},
	{"sim/internal/face", forFaces, nil, slices.Concat(files, dice),
		"a surface knows what the card knows: no engine, no truth, no descriptors"},
	{"sim/internal/face/menu", forFaces, []string{"github.com/agext/levenshtein"}, slices.Concat(files, dice),
		"the menu is text in, text out"},
	{"sim/internal/face/sshd", []string{"sim/internal/core/snap", "sim/internal/core/backup", "sim/internal/face/..."}, []string{"github.com/gliderlabs/ssh", "golang.org/x/crypto/ssh"},
		[]string{"os/...", "net/http/...", "syscall", "log/...", "math/rand/..."},
		"SSH serves a listener that it is handed"},
	{"sim/internal/host", forHosts, []string{"github.com/google/renameio/v2"}, nil,
		"a host does I/O; it neither reads scenarios nor parses flags"},
	{"sim/internal/host/batch", nil, []string{"golang.org/x/sys/unix"}, nil,
		"the one place that speaks to sockets in the system's own calls for many datagrams"},
	{"sim/internal/host/record", []string{"sim/internal/core/snap", "sim/internal/core/vtime", "sim/internal/face/...", "sim/internal/host/pace"},
		[]string{"github.com/gosnmp/gosnmp"}, nil,
		"the one place that asks a real card, with a library that is a client: it sees no scenario and no engine"},
	{"sim/internal/host/pty", forHosts, []string{"github.com/google/renameio/v2", "golang.org/x/sys/unix"}, nil,
		"the one place that speaks to a terminal of the system"},
	{"sim/internal/host/control/apitest", nil, []string{"github.com/santhosh-tekuri/jsonschema/v6"}, nil,
		"a helper of tests: it knows the document and nothing of the program"},
	{"sim/internal/host/login", []string{"sim/internal/core/snap", "sim/internal/core/vtime", "sim/internal/host/trust"}, []string{"layeh.com/radius/...", "github.com/go-ldap/ldap/v3"}, nil,
		"the one place that asks servers about users: what is made of their answers is the card's business, and silence is counted in its time"},
	{"sim/internal/host/login/logintest", []string{"sim/internal/checks"}, nil, nil,
		"a helper of tests: it starts real login servers and knows nothing of those who ask them"},
	{"sim/internal/host/memory", []string{"sim/internal/core/snap"}, []string{"go.etcd.io/bbolt/..."}, nil,
		"the one place that keeps something: what is in it is the card's business"},
	{"sim/internal/host/timeclient", []string{"sim/internal/core/snap"}, []string{"github.com/beevik/ntp"}, nil,
		"the one place that asks a time server"},
	{"sim/internal/host/ports", forHosts, []string{"golang.org/x/sys/unix"}, nil,
		"the one place that waits for many sockets at once: net takes a goroutine with its stack for each"},
	{"sim/internal/host/lan", []string{"sim/internal/core/snap", "sim/internal/core/vtime"},
		[]string{"github.com/insomniacslk/dhcp/...", "github.com/vishvananda/netlink", "golang.org/x/sys/unix"}, nil,
		"the one place that speaks DHCP and gives interfaces addresses: both are a system's business below the sockets that net has"},
	{"sim/internal/host/sink", forHosts, []string{"github.com/emersion/go-smtp", "github.com/emersion/go-sasl"}, nil,
		"the one place that plays servers that keep what arrives: SMTP with a library, the rest is ours"},
	{"sim/internal/host/mail", forHosts, []string{"github.com/wneessen/go-mail"}, nil,
		"the one place that speaks SMTP, with a library that keeps up with it"},
	{"sim/internal/checks", nil, []string{"go.uber.org/goleak"}, nil, "a helper of tests: it knows nothing of the program, and waits for goroutines that it should have ended"},
	{"sim/internal/drawn", nil, []string{"pgregory.net/rapid"}, nil, "a helper of tests: it only says what they draw"},
	{"sim", []string{"sim/internal/..."}, []string{"golang.org/x/crypto/ssh"}, nil, "the library parses no flags"},
	{"sim/simtest", []string{"sim"}, nil, nil, "a test drives a site as any program does; it does not import testing either: see checkTest"},
	{"sim/cli", []string{"sim", "sim/internal/core/report"},
		[]string{"github.com/spf13/cobra", "github.com/spf13/pflag", "github.com/google/renameio/v2", "golang.org/x/sys/unix", "github.com/jedib0t/go-pretty/v6/progress"}, nil,
		"commands use the library as everybody does, show on a terminal how far they are, and write files that have no name until they are whole"},
	{"cmd", []string{"sim/cli"}, nil, nil, "main hands over to cli"},
}

// uses are names that only some packages may use, whatever a file calls the
// package that has them.
var uses = []struct {
	pkg   string
	names []string
	only  []string
	why   string
}{
	{"time", []string{"Now", "Since", "Until"},
		[]string{"sim/internal/host/pace", "sim/internal/host/pty", "sim/internal/host/proc", "sim/internal/host/control", "sim/internal/host/sink", "sim/internal/face/sshd", "sim/internal/host/record"},
		"only the pace of a live session, the wire of the serial line, the end of a program, who reads from the bench or writes to a sink, those who guess passwords and the recorder of a real card follow the machine's clock"},
	{"time", []string{"After", "AfterFunc", "NewTicker", "NewTimer", "Sleep", "Tick"},
		[]string{"sim/internal/host/...", "sim/internal/face/term", "sim/internal/face/sshd", "sim/cli"},
		"the core never waits"},
	{"time", []string{"Local", "LoadLocation"}, nil, "a date has the offset that the scenario gives"},
	{"ridethrough/sim/internal/core/snap", []string{"Site"}, []string{"sim", "sim/internal/core/...", "sim/internal/host/..."},
		"a surface sees what its card knows, never the truth"},
	{"os", []string{"Exit"}, []string{"cmd/..."}, "only main exits: nothing else may skip clean-up"},
	{"os", []string{"Args", "Stdin", "Stdout", "Stderr", "Getenv", "LookupEnv", "Setenv", "Unsetenv", "Clearenv", "Chdir"}, []string{"cmd/..."},
		"only main touches what the whole process shares"},
	{"fmt", []string{"Print", "Printf", "Println"}, nil, "standard output belongs to main, which hands it on"},
	{"math", []string{"FMA"}, nil, "it rounds once where other machines round twice"},
	{"math", []string{
		"Acos", "Acosh", "Asin", "Asinh", "Atan", "Atan2", "Atanh", "Cbrt", "Cos", "Cosh", "Erf", "Erfc", "Erfcinv", "Erfinv", "Exp", "Exp2",
		"Expm1", "Gamma", "Hypot", "J0", "J1", "Jn", "Lgamma", "Log", "Log10", "Log1p", "Log2", "Pow", "Sin", "Sincos", "Sinh", "Tan", "Tanh",
		"Y0", "Y1", "Yn",
	}, []string{
		"sim/internal/phys/num",
		"sim/internal/core/fit",    // is no part of a run: what it finds is printed with few digits, and copied from there
		"sim/internal/core/figure", // places marks on paper, to a tenth of a point
	}, "machines differ in its last bit: phys/num has what is needed"},
	{"math/rand/v2", []string{
		"ExpFloat64", "Float32", "Float64", "Int", "Int32", "Int32N", "Int64", "Int64N", "IntN", "N", "NormFloat64", "Perm", "Shuffle", "Uint",
		"Uint32", "Uint32N", "Uint64", "Uint64N", "UintN",
	}, nil, "it draws from a stream without a seed"},
}

// goroutines may be started in these packages and under them.
var goroutines = []string{"sim/internal/core/engine", "sim/internal/face/sshd", "sim/internal/host/...",
	"sim/cli", // the bar that shows progress draws itself beside the work
}

// root is what may stand beside go.mod.
var root = []string{"DEVELOPERS.md", "README.md", "cmd", "docs", "go.mod", "go.sum", "scenarios", "sim", "testdata"}

const (
	maxLines     = 600
	maxMainLines = 20
)

// source is one Go file. dir is its folder from the module's root.
type source struct {
	dir, name string
	file      *ast.File
	lines     int
	set       *token.FileSet
}

func (s *source) isTest() bool { return strings.HasSuffix(s.name, "_test.go") }

func (s *source) at(n ast.Node) string { return s.set.Position(n.Pos()).String() }

// among says whether a package is one of packages, each a path or a/...
func among(name string, packages []string) bool {
	return slices.ContainsFunc(packages, func(p string) bool {
		tree, under := strings.CutSuffix(p, "/...")
		return name == tree || under && strings.HasPrefix(name, tree+"/")
	})
}

func parseFile(set *token.FileSet, name string, text []byte) (*source, error) {
	file, err := parser.ParseFile(set, name, text, parser.ParseComments|parser.SkipObjectResolution)
	if err != nil {
		return nil, err
	}
	lines := strings.Count(string(text), "\n")
	return &source{dir: path.Dir(name), name: path.Base(name), file: file, lines: lines, set: set}, nil
}

// house is every Go file of the module.
func house(t *testing.T) []*source {
	t.Helper()
	var all []*source
	set := token.NewFileSet()
	walk := func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") {
			return err
		}
		text, err := os.ReadFile(filepath.Join("..", name))
		if err != nil {
			return err
		}
		s, err := parseFile(set, name, text)
		all = append(all, s)
		return err
	}
	for _, top := range []string{"cmd", "sim"} {
		if err := fs.WalkDir(os.DirFS(".."), top, walk); err != nil {
			t.Fatal(err)
		}
	}
	if len(all) < 100 {
		t.Fatalf("saw %d files only", len(all))
	}
	return all
}

func TestHouse(t *testing.T) {
	for _, s := range house(t) {
		for _, rule := range []func(*source) []string{checkImports, checkUses, checkGoroutines, checkSize, checkTest} {
			for _, wrong := range rule(s) {
				t.Error(wrong)
			}
		}
	}
}

func floorOf(dir string) *floor {
	var best *floor
	for i := range floors {
		if f := &floors[i]; among(dir, []string{f.path + "/..."}) && (best == nil || len(f.path) > len(best.path)) {
			best = f
		}
	}
	return best
}

func checkImports(s *source) (wrong []string) {
	if s.isTest() {
		return nil
	}
	f := floorOf(s.dir)
	if f == nil {
		return []string{fmt.Sprintf("%s/%s stands on no floor", s.dir, s.name)}
	}
	for _, spec := range s.file.Imports {
		name := pathOf(spec)
		if why := banned[name]; why != "" && !slices.Contains(lent[name], s.dir) {
			wrong = append(wrong, fmt.Sprintf("%s: nobody may import %s: %s", s.at(spec), name, why))
		} else if !f.allows(name) {
			wrong = append(wrong, fmt.Sprintf("%s: %s may not import %s: %s", s.at(spec), s.dir, name, f.why))
		}
		if spec.Name != nil && spec.Name.Name == "." {
			wrong = append(wrong, fmt.Sprintf("%s: a dot hides where a name comes from", s.at(spec)))
		}
	}
	return wrong
}

func pathOf(spec *ast.ImportSpec) string {
	name, _ := strconv.Unquote(spec.Path.Value) // the parser has seen to it
	return name
}

func (f *floor) allows(name string) bool {
	if ours, ok := strings.CutPrefix(name, module); ok {
		return among(ours, f.ours)
	}
	if first, _, _ := strings.Cut(name, "/"); strings.Contains(first, ".") {
		return among(name, f.theirs)
	}
	return !among(name, f.not)
}

func checkUses(s *source) (wrong []string) {
	if s.isTest() || among(s.dir, testHelpers) {
		return nil
	}
	imported := s.imported()
	ast.Inspect(s.file, func(n ast.Node) bool {
		sel, ok := n.(*ast.SelectorExpr)
		if !ok {
			return true
		}
		pkg, ok := sel.X.(*ast.Ident)
		if !ok {
			return true
		}
		for _, c := range uses {
			if c.pkg == imported[pkg.Name] && slices.Contains(c.names, sel.Sel.Name) && !among(s.dir, c.only) {
				wrong = append(wrong, fmt.Sprintf("%s: %s.%s: %s", s.at(n), c.pkg, sel.Sel.Name, c.why))
			}
		}
		return true
	})
	return wrong
}

// imported is the paths of the packages that s imports, by the names that it
// calls them.
func (s *source) imported() map[string]string {
	names := map[string]string{}
	for _, spec := range s.file.Imports {
		at := pathOf(spec)
		name := path.Base(at)
		if name == "v2" {
			name = path.Base(path.Dir(at))
		}
		if spec.Name != nil {
			name = spec.Name.Name
		}
		names[name] = at
	}
	return names
}

func checkGoroutines(s *source) (wrong []string) {
	if s.isTest() || among(s.dir, goroutines) {
		return nil
	}
	ast.Inspect(s.file, func(n ast.Node) bool {
		call, isCall := n.(*ast.CallExpr)
		_, isGo := n.(*ast.GoStmt)
		if isCall {
			sel, ok := call.Fun.(*ast.SelectorExpr)
			isGo = ok && sel.Sel.Name == "Go"
		}
		if isGo {
			wrong = append(wrong, s.at(n)+": only the engine's loop and what serves connections start goroutines")
		}
		return true
	})
	return wrong
}

func checkSize(s *source) []string {
	switch {
	case s.lines > maxLines:
		return []string{fmt.Sprintf("%s/%s has %d lines; split it at %d", s.dir, s.name, s.lines, maxLines)}
	case s.dir == "cmd/ridethrough" && s.name == "main.go" && s.lines > maxMainLines:
		return []string{fmt.Sprintf("main.go has %d lines; what does work belongs to cli", s.lines)}
	}
	return nil
}

// testHelpers are packages for tests only, which nothing else may import.
var testHelpers = []string{"sim/internal/checks", "sim/internal/drawn", "sim/internal/core/playtest", "sim/internal/host/login/logintest", "sim/internal/host/control/apitest", "sim/internal/face/term/termtest"}

func checkTest(s *source) (wrong []string) {
	if s.isTest() || among(s.dir, testHelpers) {
		return nil
	}
	for _, spec := range s.file.Imports {
		name := pathOf(spec)
		if name == "testing" || among(strings.TrimPrefix(name, module), testHelpers) {
			wrong = append(wrong, s.at(spec)+": a helper of tests does not belong into the program")
		}
	}
	return wrong
}

func TestEveryPackageHasOneDoc(t *testing.T) {
	docs, packages := map[string][]string{}, map[string]bool{}
	for _, s := range house(t) {
		if s.isTest() {
			continue
		}
		packages[s.dir] = true
		if s.file.Doc != nil {
			docs[s.dir] = append(docs[s.dir], s.name)
		}
	}
	for dir := range packages {
		want := "doc.go"
		if strings.HasPrefix(dir, "cmd/") {
			want = "main.go"
		}
		if got := docs[dir]; !slices.Equal(got, []string{want}) {
			t.Errorf("%s: the package is described in %q; want %s alone", dir, got, want)
		}
	}
}

func TestRootIsFixed(t *testing.T) {
	entries, err := os.ReadDir("..")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), ".") && !slices.Contains(root, e.Name()) {
			t.Errorf("%s does not belong into the root: code is under cmd and sim, the rest under docs, scenarios and testdata", e.Name())
		}
	}
}

// Every rule has to bite: one file that breaks it, and how often.
func TestRulesBite(t *testing.T) {
	for _, c := range []struct {
		name, text string
		rule       func(*source) []string
		want       int
	}{
		{"sim/internal/phys/x/a.go", "package x\nimport _ \"time\"\nimport _ \"os/exec\"\nimport _ \"math\"", checkImports, 2},
		{"sim/internal/phys/x/a.go", "package x\nimport _ \"ridethrough/sim/internal/core/snap\"", checkImports, 1},
		{"sim/internal/core/x/a.go", "package x\nimport _ \"net/netip\"\nimport _ \"net\"\nimport _ \"math/rand/v2\"", checkImports, 2},
		{"sim/internal/core/rng/a.go", "package x\nimport _ \"math/rand/v2\"", checkImports, 0},
		{"sim/internal/core/x/a.go", "package x\nimport _ \"ridethrough/sim/internal/face/ber\"", checkImports, 1},
		{"sim/internal/face/x/a.go", "package x\nimport _ \"ridethrough/sim/internal/core/engine\"\nimport _ \"ridethrough/sim/internal/core/snap\"", checkImports, 1},
		{"sim/cli/a.go", "package x\nimport _ \"ridethrough/sim/internal/core/engine\"\nimport _ \"ridethrough/sim\"", checkImports, 1},
		{"attic/a.go", "package x", checkImports, 1},
		{"sim/internal/core/x/a.go", "package x\nimport . \"strings\"", checkImports, 1},
		{"sim/internal/core/x/a.go", "package x\nimport _ \"github.com/pelletier/go-toml/v2\"\nimport _ \"example.org/new\"", checkImports, 2},
		{"sim/internal/core/scenario/a.go", "package x\nimport _ \"github.com/pelletier/go-toml/v2/unstable\"", checkImports, 0},
		{"sim/internal/host/x/a.go", "package x\nimport _ \"github.com/spf13/cobra\"\nimport _ \"golang.org/x/sys/unix\"", checkImports, 2},
		{"sim/cli/a.go", "package x\nimport _ \"flag\"\nimport _ \"unsafe\"\nimport _ \"log\"\nimport _ \"github.com/spf13/cobra\"", checkImports, 3},
		{"sim/internal/core/x/a.go", "package x\nimport t \"time\"\nvar now = t.Now\nfunc f() { t.Sleep(1); <-t.After(1); t.AfterFunc(1, f) }", checkUses, 4},
		{"sim/internal/core/x/a.go", "package x\nimport time \"ridethrough/sim/internal/core/vtime\"\nvar now = time.Now()", checkUses, 0},
		{"sim/internal/face/x/a.go", "package x\nimport truth \"ridethrough/sim/internal/core/snap\"\nvar a truth.Site", checkUses, 1},
		{"sim/internal/host/x/a.go", "package x\nimport \"fmt\"\nfunc f() { fmt.Print(1); fmt.Printf(``); fmt.Println(); fmt.Sprint() }", checkUses, 3},
		{"sim/internal/core/x/a.go", "package x\nimport \"math\"\nvar a = math.Exp(1) + math.Log(2) + math.Pow(2, 3) + math.Sqrt(2) + math.FMA(1, 2, 3)", checkUses, 4},
		{"sim/internal/phys/num/a.go", "package x\nimport \"math\"\nvar a = math.Exp(1) + math.FMA(1, 2, 3)", checkUses, 1},
		{"sim/internal/core/rng/a.go", "package x\nimport \"math/rand/v2\"\nvar a = rand.IntN(3)\nvar b = rand.New(nil)", checkUses, 1},
		{"sim/cli/a.go", "package x\nimport \"os\"\nvar a = os.Stdout\nvar b = os.Getenv(``)", checkUses, 2},
		{"sim/internal/core/x/a.go", "package x\nimport \"time\"\nvar a = time.Now()\nvar b = time.Second\nfunc f() { time.Sleep(1) }", checkUses, 2},
		{"sim/internal/host/pace/a.go", "package x\nimport \"time\"\nvar a = time.Now()", checkUses, 0},
		{"sim/internal/face/x/a.go", "package x\nimport \"ridethrough/sim/internal/core/snap\"\nvar a snap.Site\nvar b snap.Device", checkUses, 1},
		{"sim/cli/a.go", "package x\nimport \"os\"\nfunc f() { os.Exit(1) }", checkUses, 1},
		{"sim/internal/core/x/a.go", "package x\nfunc f() { go f(); var w wg; w.Go(f) }", checkGoroutines, 2},
		{"sim/internal/host/x/a.go", "package x\nfunc f() { go f() }", checkGoroutines, 0},
		{"sim/a.go", "package x" + strings.Repeat("\n", maxLines+1), checkSize, 1},
		{"cmd/ridethrough/main.go", "package main" + strings.Repeat("\n", maxMainLines+1), checkSize, 1},
		{"sim/a.go", "package x\nimport _ \"testing\"\nimport _ \"ridethrough/sim/internal/checks\"", checkTest, 2},
	} {
		s, err := parseFile(token.NewFileSet(), c.name, []byte(c.text))
		if err != nil {
			t.Fatal(err)
		}
		if got := c.rule(s); len(got) != c.want {
			t.Errorf("%s %q: %d complaints %q, want %d", c.name, c.text, len(got), got, c.want)
		}
	}
}
