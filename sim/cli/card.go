package cli

import (
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// maxText is more than any export has.
const maxText = 1 << 20

type cardFlags struct {
	state, serial string
	confirm       bool
}

func (a *app) cardCommand() *cobra.Command {
	f := &cardFlags{}
	cmd := &cobra.Command{
		Use:   "card {export | import FILE | reset LEVEL} --state DIR",
		Short: "Save, load or reset what a card remembers while it is not served",
		Long: "Work on what a card remembers in a folder of serve --state, while nobody serves it.\n" +
			"export writes its settings as TOML, without secrets. import takes them from FILE, all\n" +
			"of it or nothing; settings with a caution only with --confirm. reset takes the card back to the\n" +
			"state in which the scenario describes it; LEVEL is settings, accounts or all.\n" +
			"docs/card.md says what that is.",
		Args: between(1, 2, "an action: export, import FILE or reset LEVEL"),
		RunE: func(_ *cobra.Command, args []string) error { return a.card(f, args) },
	}
	cmd.Flags().StringVar(&f.state, "state", "", "the `DIR` of serve --state")
	cmd.Flags().StringVar(&f.serial, "serial-number", "", "the card with that serial `NUMBER` (default the only one)")
	cmd.Flags().BoolVar(&f.confirm, "confirm", false, "import: the cautions of what it changes are read, and this is meant")
	return cmd
}

// card carries out one action. What is wrong with the command line it says before
// it opens anything.
func (a *app) card(f *cardFlags, args []string) error {
	does := map[string]struct {
		takes int
		do    func(*sim.CardState, string) error
	}{
		"export": {1, a.exportCard},
		"import": {2, func(c *sim.CardState, path string) error { return a.importCard(c, path, f.confirm) }},
		"reset":  {2, func(c *sim.CardState, level string) error { return c.Reset(level) }},
	}
	action, ok := does[args[0]]
	switch {
	case !ok:
		return usagef("there is no action %q: expected export, import FILE or reset LEVEL", args[0])
	case len(args) != action.takes:
		return usagef("expected export, import FILE or reset LEVEL")
	case f.confirm && args[0] != "import":
		return usagef("--confirm belongs to import: %s shows no caution", args[0])
	case f.state == "":
		return usagef("card needs --state DIR")
	}
	c, err := sim.OpenCard(f.state, f.serial)
	if err != nil {
		return err
	}
	defer c.Close()
	return action.do(c, args[len(args)-1])
}

func (a *app) exportCard(c *sim.CardState, _ string) error {
	text, err := c.Export()
	if err == nil {
		_, err = io.WriteString(a.out, text)
	}
	return err
}

func (a *app) importCard(c *sim.CardState, path string, confirmed bool) error {
	text, err := readText(path)
	if err != nil {
		return &sim.IOError{Op: "read", Path: path, Err: withoutPath(err)}
	}
	notes, err := c.Import(path, text, confirmed)
	var caution *sim.CautionError
	switch {
	case errors.As(err, &caution):
		return fmt.Errorf("%w Not imported: --confirm says that this is meant", err)
	case err != nil:
		return err
	}
	for _, line := range notes {
		fmt.Fprintln(a.out, line)
	}
	return nil
}

func readText(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxText))
}
