package setting

import (
	"fmt"
	"strings"
)

// Reference is the page about all settings, in Markdown.
func Reference() string {
	var b strings.Builder
	b.WriteString(`# Settings of the card

What a technician can set over the serial line and SSH, in the order of the job. This page is generated from the table in
` + "`sim/internal/core/setting`" + `; a test fails when the two differ.

` + "`show PATH`" + ` shows a setting, ` + "`set PATH VALUE`" + ` edits it, ` + "`edit GROUP`" + ` asks for one after the other, ` + "`changes`" + ` compares,
` + "`save`" + ` writes. Over SSH without a dialog ` + "`set`" + `, ` + "`add`" + ` and ` + "`remove`" + ` save at once, all of a line or nothing of it.

In force: *at once* when saved, or after the next *restart* of the card. Settings marked *own* belong to one card alone and are
not carried to another one. A *secret* is never shown or exported, only whether it is set.
`)
	for _, g := range Groups() {
		fmt.Fprintf(&b, "\n## %s\n\n%s.\n", g, upper(g.Brief()))
		rows := ""
		for _, r := range table {
			if r.group() == g && r.setting != nil {
				rows += r.setting.reference()
			}
		}
		if rows != "" {
			b.WriteString(head + rows)
		}
		for _, l := range Lists() {
			if l.Group == g {
				b.WriteString(l.reference())
			}
		}
	}
	return b.String()
}

const head = "\n| path | what it does | accepts | in force | |\n| --- | --- | --- | --- | --- |\n"

func (x *Setting) reference() string {
	force := "restart"
	if x.AtOnce {
		force = "at once"
	}
	var marks []string
	if x.Unique {
		marks = append(marks, "own")
	}
	if x.Secret {
		marks = append(marks, "secret")
	}
	help := x.Help
	if x.Caution != "" {
		help += " **Caution:** " + x.Caution
	}
	return fmt.Sprintf("| `%s` | %s | %s | %s | %s |\n", x.Path, help, x.Takes, force, strings.Join(marks, ", "))
}

func (l *List) reference() string {
	bound := fmt.Sprintf("At most %d", l.Max)
	if l.Fixed != "" {
		bound = "Entries neither come nor go: " + l.Fixed
	}
	text := fmt.Sprintf("\n### %s.NAME\n\n%s %s.\n%s", l.Path, l.Help, bound, head)
	for _, c := range l.Columns {
		text += c.reference()
	}
	return text
}

func upper(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
