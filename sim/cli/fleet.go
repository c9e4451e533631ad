package cli

import (
	"github.com/spf13/cobra"

	"ridethrough/sim"
)

// serveFleet is serve for a scenario that is a fleet.
func (a *app) serveFleet(cmd *cobra.Command, s *sim.Scenario, f *serveFlags) error {
	for _, flag := range []string{"ssh", "serial", "serial-pacing", "host-key", "bind", "interface", "journal", "trace"} {
		if cmd.Flags().Changed(flag) {
			return usagef("--%s is for one card; the scenario is a fleet of %d, whose devices have SNMP alone", flag, s.Fleet())
		}
	}
	f.opts.SSH = ""
	receivers, err := s.FleetReceivers()
	if err != nil {
		return err
	}
	if err := mapped(f.opts.Receivers, receivers); err != nil {
		return err
	}
	f.opts.Programs, f.opts.Ready = a.err, a.out
	f.opts.Log = func(line string) { a.say("%s", line) }
	defer f.files.discard()
	if err := f.open(); err != nil {
		return err
	}
	result, err := sim.ServeFleet(cmd.Context(), s, f.opts)
	if err != nil {
		return err
	}
	if err := f.publish(a, result); err != nil {
		return err
	}
	return verdict(result.Met(), result.Interrupted())
}
