package cli

import (
	"fmt"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

func (a *app) checkCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "check SCENARIO...",
		Short: "Read scenarios with all their variants without playing them",
		Long:  "Read scenarios with all their variants without playing them. One line is written\nfor each: on standard output if it is valid, on standard error if it is not.",
		Args:  between(1, -1, "at least one SCENARIO"),
		RunE:  func(_ *cobra.Command, args []string) error { return a.checkAll(args) },
	}
}

// checkAll checks every file, whatever is wrong with those before it.
func (a *app) checkAll(paths []string) error {
	worst := exitMet
	for _, path := range paths {
		line, err := check(path)
		if err != nil {
			a.say("%s", err)
			worst = max(worst, exitOf(err))
			continue
		}
		if _, err := fmt.Fprintln(a.out, line); err != nil {
			return err
		}
	}
	if worst != exitMet {
		return ended{worst}
	}
	return nil
}

// check is one line about a valid file.
func check(path string) (string, error) {
	s, err := sim.Load(path)
	if err != nil {
		return "", err
	}
	if err := s.CheckFleet(); err != nil {
		return "", err
	}
	variants, err := s.Variants()
	if err != nil {
		return "", err
	}
	for _, v := range variants {
		if _, err := s.With(sim.WithVariant(v.Name)); err != nil {
			return "", err
		}
	}
	fleet := ""
	if n := s.Fleet(); n > 0 {
		fleet = "a fleet of " + many(n, "device") + ", "
	}
	line := fmt.Sprintf("%s: valid, %s%s, %s", path, fleet, many(len(s.Expectations()), "expectation"), many(len(variants), "variant"))
	if len(variants) == 0 && len(s.Expectations()) > 0 {
		line += "; no variant shows that an expectation can fail"
	}
	return line, nil
}

func many(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
