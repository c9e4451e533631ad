package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// Reference is docs/cli.md.
func Reference() string {
	var b strings.Builder
	root := (&app{}).root()
	b.WriteString("# Commands\n\n" +
		"This page is generated from the program; a test fails when it drifts.\n\n" +
		"Standard output is data, standard error is talk: pipes and scripts read the first,\n" +
		"people the second. What is wrong is said in one line that begins with `ridethrough:`.\n" +
		"Files appear under their names only when they are whole, save a journal, which is\n" +
		"written line by line; a command that is killed leaves nothing of them (on Linux, where\n" +
		"the file system has files without a name; elsewhere a hidden file beside them).\n\n" +
		"Exit codes are explained in [exit-codes.md](exit-codes.md), JSON in [json.md](json.md),\n" +
		"live sessions in [bench.md](bench.md).\n\n")
	for _, cmd := range root.Commands() {
		if !cmd.IsAvailableCommand() {
			continue
		}
		document(&b, cmd)
		if cmd.Name() == "study" {
			for _, sub := range cmd.Commands() {
				document(&b, sub)
			}
		}
	}
	return b.String()
}

func document(b *strings.Builder, cmd *cobra.Command) {
	fmt.Fprintf(b, "## %s\n\n    %s\n\n%s.\n", strings.TrimPrefix(cmd.CommandPath(), "ridethrough "), cmd.UseLine(), strings.TrimSuffix(cmd.Long, "."))
	rows := flagRows(cmd)
	if rows != "" {
		fmt.Fprintf(b, "\n| flag | |\n| --- | --- |\n%s", rows)
	}
	b.WriteString("\n")
}

func flagRows(cmd *cobra.Command) string {
	var b strings.Builder
	cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
		if f.Hidden || f.Name == "help" {
			return
		}
		value, usage := pflag.UnquoteUsage(f)
		name := "--" + f.Name
		if value != "" {
			name += " " + value
		}
		if f.Shorthand != "" {
			name = "-" + f.Shorthand + ", " + name
		}
		fmt.Fprintf(&b, "| `%s` | %s%s |\n", name, usage, defaultOf(f))
	})
	return b.String()
}

// defaultOf is the default of a flag where it says something.
func defaultOf(f *pflag.Flag) string {
	switch f.DefValue {
	case "", "false", "0", "[]":
		return ""
	}
	return " (default " + f.DefValue + ")"
}
