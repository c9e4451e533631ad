package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

type imageFlags struct {
	loadFlags
	fault, out string
	size       int
}

func (a *app) imageCommand() *cobra.Command {
	f := &imageFlags{}
	cmd := &cobra.Command{
		Use:   "image SCENARIO [RELEASE --out FILE]",
		Short: "Make a firmware image for the card of a scenario",
		Long: "Make the firmware image of a [[card.release]] of a scenario, signed so that the card of\n" +
			"that scenario takes it: ssh CARD firmware load < FILE. Without RELEASE list those that\n" +
			"there are. --fault makes an image that is wrong in one way:\n" +
			"  wrong-signature  somebody else has signed it\n" +
			"  garbled          it was changed after it was signed\n" +
			"  truncated        it ends after 61 % of its octets\n" +
			"  other-model      it is for another model of card\n" +
			"  fails-test       the card takes it, and it does not pass its own test\n" +
			"The key comes from the seed: an image proves nothing outside of the simulator.",
		Args: between(1, 2, "SCENARIO and RELEASE"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := f.load(cmd, args[:1])
			if err != nil {
				return err
			}
			if len(args) == 1 {
				if f.out != "" || f.fault != "" || cmd.Flags().Changed("size") {
					return usagef("--out, --fault and --size are for the image of one RELEASE: name it after SCENARIO")
				}
				return a.listReleases(s)
			}
			return a.makeImage(s, args[1], f)
		},
	}
	cmd.Flags().StringVarP(&f.out, "out", "o", "", "write the image to `FILE`")
	cmd.Flags().StringVar(&f.fault, "fault", "", "make it wrong in this `WAY`")
	cmd.Flags().IntVar(&f.size, "size", 0, "`OCTETS` of code in it (default 65536)")
	f.add(cmd)
	return cmd
}

func (a *app) listReleases(s *sim.Scenario) error {
	list := s.Releases()
	if len(list) == 0 {
		a.say("the scenario has no [[card.release]]")
		return nil
	}
	return writeTable(a.out, "RELEASE\tVERSION\tMODEL\tNOTE", list, func(r *sim.Release) string {
		return fmt.Sprintf("%s\t%s\t%s\t%s", r.Name, r.Version, r.Model, r.Note)
	})
}

func (a *app) makeImage(s *sim.Scenario, name string, f *imageFlags) error {
	switch {
	case f.out == "":
		return usagef("image needs --out FILE: an image is no text")
	case f.fault != "" && !slices.Contains(sim.ImageFaults(), f.fault):
		return usagef("--fault %q: expected one of %s", f.fault, strings.Join(sim.ImageFaults(), ", "))
	case f.size < 0 || f.size > sim.MaxImage/2:
		return usagef("--size %d: expected 1 to %d", f.size, sim.MaxImage/2)
	}
	b, ok, err := s.Image(name, f.fault, f.size)
	switch {
	case err != nil:
		return err
	case !ok:
		return usagef("there is no release %q: image SCENARIO lists them", name)
	}
	var files outputs
	defer files.discard()
	w, err := files.open(f.out, 0o666)
	if err != nil {
		return err
	}
	if _, err := w.Write(b); err != nil {
		return err
	}
	return files.commit()
}
