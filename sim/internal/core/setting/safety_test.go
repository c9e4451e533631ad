package setting

import (
	"strings"
	"testing"
)

// switching are the groups and lists of which every setting may touch the load, or
// whoever works on what hangs on it.
var switching = []string{"shutdown.", "surroundings.relay."}

// harmless are those of them that cannot, with the reason.
var harmless = map[string]string{
	"shutdown.restart-off":      "only keeps off for longer, and at most an hour",
	"shutdown.group.*.label":    "a name",
	"shutdown.group.*.on-delay": "comes on later than the output, by itself as before",
	"shutdown.group.*.min-off":  "only keeps off for longer, and at most an hour",
}

// TestWhatSwitchesHasACaution: each setting that can take a load off its supply, keep
// it off or bring it back while somebody works says so before it is saved; who adds
// one has to decide.
func TestWhatSwitchesHasACaution(t *testing.T) {
	met := map[string]bool{}
	check := func(x *Setting, path string) {
		for _, prefix := range switching {
			if !strings.HasPrefix(path, prefix) {
				continue
			}
			reason, known := harmless[path]
			met[path] = known
			if (x.Caution == "") != known {
				t.Errorf("%s: caution %q, harmless because %q: it has one or the other", path, x.Caution, reason)
			}
			if x.Caution != "" && !strings.HasSuffix(x.Caution, ".") {
				t.Errorf("%s: %q is no sentence", path, x.Caution)
			}
		}
	}
	for _, x := range All() {
		check(x, x.Path)
	}
	for _, l := range Lists() {
		for _, c := range l.Columns {
			check(c, c.Path)
		}
	}
	for path := range harmless {
		if !met[path] {
			t.Errorf("there is no setting %s", path)
		}
	}
}

// TestWhatShutsOutHasACaution: who changes how people get in hears first that it may shut
// out whoever does.
func TestWhatShutsOutHasACaution(t *testing.T) {
	left := map[string]bool{"access.sign-in": true, "access.ssh-algorithms": true}
	for _, x := range All() {
		if left[x.Path] && !strings.Contains(x.Caution, "Keep this session") {
			t.Errorf("%s: caution %q", x.Path, x.Caution)
		}
		delete(left, x.Path)
	}
	if len(left) > 0 {
		t.Errorf("there are no settings %v", left)
	}
}
