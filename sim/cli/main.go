package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
	"strings"

	"github.com/spf13/cobra"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/report"
)

// World is what a command line may touch of the process that it runs in.
type World struct {
	Args           []string // without the program's name
	Stdout, Stderr io.Writer
	Getenv         func(string) string // nil: there is no environment
}

// app is one command line on its way.
type app struct {
	out io.Writer // standard output; its errors say so
	err io.Writer
	env func(string) string

	unhelped error // of writing help
}

// Main carries out w.Args until done or until ctx is done, and returns the exit
// code.
func Main(ctx context.Context, w World) (code int) {
	a := &app{out: &stdout{w.Stdout}, err: w.Stderr, env: w.Getenv}
	if a.env == nil {
		a.env = func(string) string { return "" }
	}
	defer func() {
		if fault := recover(); fault != nil {
			a.say("internal fault: %v; please report it as a bug, with the command, the scenario and these lines:", fault)
			fmt.Fprintf(a.err, "%s", debug.Stack())
			code = exitFault
		}
	}()
	root := a.root()
	root.SetArgs(w.Args)
	cmd, err := root.ExecuteContextC(ctx)
	if err == nil {
		err = a.unhelped
	}
	if err == nil {
		return exitMet
	}
	a.complain(cmd, err)
	return exitOf(err)
}

// complain says what went wrong in one line, and where help is in a second.
func (a *app) complain(cmd *cobra.Command, err error) {
	var quiet ended
	var usage *usageError
	switch {
	case errors.As(err, &quiet), hungUp(err): // who closes a pipe has seen enough
		return
	case errors.As(err, &usage):
		a.say("%s", err)
		fmt.Fprintf(a.err, "hint: %s --help shows how it is used\n", cmd.CommandPath())
	default:
		a.say("%s", err)
	}
}

// say writes one line of talk.
func (a *app) say(format string, args ...any) {
	fmt.Fprintf(a.err, "ridethrough: %s\n", report.OneLine(fmt.Sprintf(format, args...)))
}

func (a *app) root() *cobra.Command {
	root := &cobra.Command{
		Use:   "ridethrough",
		Short: "A UPS, its network card and the machines behind it, in software only",
		Long: "ridethrough is a UPS, its network card and the machines behind it that exist only in software.\n" +
			"It plays outages from scenario files and judges what the software in charge made of them.\n" +
			"It touches no hardware.\n\n" + exitHelp(),
		Version:       sim.Version(),
		Args:          a.noSuchCommand,
		RunE:          func(*cobra.Command, []string) error { return usagef("which command?") },
		SilenceErrors: true, SilenceUsage: true,
		PersistentPreRunE:          func(cmd *cobra.Command, _ []string) error { return namesSomething(cmd) },
		SuggestionsMinimumDistance: 2,
		CompletionOptions:          cobra.CompletionOptions{DisableDefaultCmd: true},
	}
	root.SetOut(a.out)
	root.SetErr(a.err)
	root.SetVersionTemplate("ridethrough {{.Version}}\n")
	root.SetFlagErrorFunc(flagError)
	root.SetHelpCommand(a.helpCommand())
	root.SetHelpFunc(a.helper(root.HelpFunc()))
	root.AddCommand(a.runCommand(), a.serveCommand(), a.checkCommand(), a.replayCommand(), a.recordCommand(), a.waitCommand(), a.sendCommand(), a.cardCommand(), a.imageCommand(), a.objectsCommand(), a.budgetCommand(), a.stageCommand(), a.physicsCommand(), a.fitCommand(), a.plotCommand(), a.studyCommand())
	return root
}

func exitHelp() string {
	var b strings.Builder
	b.WriteString("Exit codes:\n")
	for _, e := range exits {
		fmt.Fprintf(&b, "  %3d  %s\n", e.code, e.sentence)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// helper is cobra's help, which keeps to itself that it could not be written.
func (a *app) helper(plain func(*cobra.Command, []string)) func(*cobra.Command, []string) {
	return func(cmd *cobra.Command, args []string) {
		var text bytes.Buffer
		cmd.SetOut(&text)
		plain(cmd, args)
		_, a.unhelped = a.out.Write(text.Bytes())
	}
}

// helpCommand is cobra's, which thinks that all is well when it knows no such
// command.
func (a *app) helpCommand() *cobra.Command {
	return &cobra.Command{
		Use:    "help [COMMAND]",
		Short:  "Show how a command is used",
		Hidden: true,
		RunE: func(cmd *cobra.Command, args []string) error {
			root := cmd.Root()
			about, rest, err := root.Find(args)
			if err != nil || len(rest) > 0 {
				return a.noSuchCommand(root, args)
			}
			return about.Help()
		},
	}
}

func (a *app) noSuchCommand(root *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	text := fmt.Sprintf("there is no command %q", args[0])
	if near := root.SuggestionsFor(args[0]); len(near) > 0 {
		text += fmt.Sprintf("; did you mean %q?", near[0])
	}
	return usagef("%s", text)
}

// between takes that many arguments, which the usage line calls what.
func between(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < least:
			return usagef("%s needs %s", cmd.Name(), what)
		case most == 0 && len(args) > 0:
			return usagef("%s takes no arguments, got %q", cmd.Name(), args[0])
		case most >= 0 && len(args) > most:
			return usagef("%s takes at most %d %s, got %d: %q", cmd.Name(), most, what, len(args), args[most])
		}
		return nil
	}
}

const standardOutput = "standard output"

// stdout names itself when it fails.
type stdout struct{ w io.Writer }

func (s *stdout) Write(p []byte) (int, error) {
	n, err := s.w.Write(p)
	if err != nil {
		err = &sim.IOError{Op: "write", Path: standardOutput, Err: withoutPath(err)}
	}
	return n, err
}
