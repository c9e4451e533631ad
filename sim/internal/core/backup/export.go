package backup

import (
	"encoding/json"
	"fmt"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// Kept stands for a secret that is set.
const Kept = "(kept)"

const (
	formatKey = "format"
	serialKey = "serial_number"
	format    = 1
)

// Export is s as TOML, of the card with that serial number.
func Export(serial string, s *snap.Settings) string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Settings of a simulated network card. A secret that is set stands as %q.\n", Kept)
	fmt.Fprintf(&b, "%s = %d\n%s = %s\n", formatKey, format, serialKey, quote(serial))
	for _, g := range setting.Groups() {
		var single []setting.Ref
		for _, r := range setting.In(s, g) {
			if r.Entry == "" {
				single = append(single, r)
			}
		}
		table(&b, g.String(), s, single)
		for _, l := range setting.Lists() {
			if l.Group == g {
				list(&b, l, s)
			}
		}
	}
	return b.String()
}

// list writes the list even when it is empty: so is then that of the reader.
func list(b *strings.Builder, l *setting.List, s *snap.Settings) {
	fmt.Fprintf(b, "\n[%s]\n", l.Path)
	for _, name := range l.Names(s) {
		table(b, l.Path+"."+name, s, l.Entry(s, name))
	}
}

func table(b *strings.Builder, path string, s *snap.Settings, refs []setting.Ref) {
	if len(refs) == 0 {
		return
	}
	fmt.Fprintf(b, "\n[%s]\n", path)
	for _, r := range refs {
		fmt.Fprintf(b, "%s = %s\n", strings.TrimPrefix(r.Path, path+"."), quote(show(r, s)))
	}
}

func show(r setting.Ref, s *snap.Settings) string {
	v := r.Get(s)
	if r.Secret && v != "" {
		return Kept
	}
	return v
}

// quote is v as a basic string of TOML, which is one of JSON save for DEL.
func quote(v string) string {
	var b strings.Builder
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false) // people read it, and rules of zones have < and >
	if err := enc.Encode(v); err != nil {
		panic("backup: " + err.Error()) // a text: cannot fail
	}
	return strings.ReplaceAll(strings.TrimSuffix(b.String(), "\n"), "\x7f", `\u007f`)
}
