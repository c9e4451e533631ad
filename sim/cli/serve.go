package cli

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"ridethrough/sim"
)

type serveFlags struct {
	loadFlags
	resultFlags
	opts    sim.ServeOptions
	journal string
	maps    []string
	peers   []string
	bind    string
}

func (a *app) serveCommand() *cobra.Command {
	f := &serveFlags{}
	cmd := &cobra.Command{
		Use:   "serve [SCENARIO] [-- PROGRAM ARGS...]",
		Short: "Play a scenario in real time behind real sockets",
		Long: "Play a scenario in real time with the card's surfaces bound to loopback addresses.\n" +
			"Without SCENARIO the built-in one is played.\n\n" +
			"Once everything is bound one line of JSON on standard output, and the same in\n" +
			"--ready-file, says where everything is; only then does time begin to run. PROGRAM,\n" +
			"the software under test, is started with the same in its environment, and the\n" +
			"session ends with it. The result follows on standard output when the session ends.\n" +
			"docs/bench.md says what all that is.\n\n" +
			"Of a fleet every device has an SNMP agent of its own and nothing else; docs/fleet.md\n" +
			"says at which addresses, and what it takes.",
		Args: serveArgs,
		RunE: func(cmd *cobra.Command, args []string) error { return a.serve(cmd, args, f) },
	}
	f.loadFlags.add(cmd)
	f.resultFlags.add(cmd)
	f.addAddresses(cmd)
	f.addSession(cmd)
	return cmd
}

func (f *serveFlags) addAddresses(cmd *cobra.Command) {
	const free = "127.0.0.1:0"
	flags := cmd.Flags()
	flags.StringVar(&f.bind, "bind", "loopback", "`WHERE` SNMP and SSH listen: loopback, or real for the card's own addresses, as far as this machine has them; then --snmp and --ssh take a port alone, as in :1161 (default :161 and :22)")
	flags.StringVar(&f.opts.Interface, "interface", "", "`NAME` of an interface of this machine that the card is on, with --bind real and --expose: it takes leases of real DHCP servers there and gets the card's addresses (takes root, or NET_ADMIN and NET_RAW)")
	flags.StringVar(&f.opts.SNMP, "snmp", free, "`HOST:PORT` of the SNMP agent; port 0 is a free one. Those of further units follow after commas")
	flags.StringVar(&f.opts.SSH, "ssh", free, "`HOST:PORT` of the SSH server, and after commas those of further units")
	flags.StringVar(&f.opts.Bench, "bench", free, "`HOST:PORT` of the bench")
	flags.StringVar(&f.opts.Serial, "serial", "", "`PATH` of a link to the serial line, and after commas those of further units (default temporary ones)")
	flags.BoolVar(&f.opts.SerialPacing, "serial-pacing", false, "slow the serial line down to 9600 bits per second")
	flags.StringArrayVar(&f.maps, "map", nil, "`ADDR=ENDPOINT`: send what goes to the simulated receiver, mail relay or syslog collector ADDR, as in 198.51.100.20:162, to ENDPOINT; repeatable")
	flags.StringArrayVar(&f.peers, "peer", nil, "`NAME=ADDR`: clients from ADDR, as in 127.0.0.2, are the [[peer]] NAME; repeatable (default a client is in the card's own network)")
	flags.StringVar(&f.opts.State, "state", "", "`DIR` where the card remembers settings, accounts, starts, journal and keys, and a fleet its starts (default nowhere: it is new, and forgets)")
	flags.StringVar(&f.opts.HostKey, "host-key", "", "`FILE` with the private key of the SSH server (default the one in --state, else derived from the seed)")
	flags.BoolVar(&f.opts.Expose, "expose", false, "allow addresses that are not loopback")
}

func (f *serveFlags) addSession(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.Float64Var(&f.opts.Speed, "speed", 1, "simulated seconds per real second, `0.1 to 3600`")
	flags.BoolVar(&f.opts.Paused, "paused", false, "have time stand from the start until the bench has it run (docs/bench.md)")
	flags.BoolVar(&f.opts.Keep, "keep", false, "go on after the end of the run until interrupted")
	flags.StringVar(&f.opts.ReadyFile, "ready-file", "", "write the ready record to `FILE`, which goes with the session")
	flags.StringVar(&f.journal, "journal", "", "record the session in `FILE`, line by line, for replay")
}

// serveArgs lets one scenario stand before the dash and a program behind it.
func serveArgs(cmd *cobra.Command, args []string) error {
	dash := cmd.ArgsLenAtDash()
	if dash == len(args) {
		return usagef("a PROGRAM has to follow --")
	}
	if dash >= 0 {
		args = args[:dash]
	}
	return between(0, 1, "SCENARIO")(cmd, args)
}

func (a *app) serve(cmd *cobra.Command, args []string, f *serveFlags) error {
	if dash := cmd.ArgsLenAtDash(); dash >= 0 {
		args, f.opts.Program = args[:dash], args[dash:]
	}
	if err := f.checkBind(cmd); err != nil {
		return err
	}
	if err := f.checkFlags(args); err != nil {
		return err
	}
	s, err := f.load(cmd, args)
	if err != nil {
		return err
	}
	if s.Fleet() > 0 {
		return a.serveFleet(cmd, s, f)
	}
	if err := playable(f.opts.Peers, s.PeerNames()); err != nil {
		return err
	}
	if err := mapped(f.opts.Receivers, s.Peers()); err != nil {
		return err
	}
	f.opts.Programs = a.err
	f.opts.Log = func(line string) { a.say("%s", line) }
	result, err := f.play(cmd.Context(), a, s)
	if err != nil {
		return err
	}
	// With --keep only a signal ends the session: past its end that is no
	// interruption of the run.
	interrupted := result.Interrupted && !(f.opts.Keep && result.Ended >= s.RunFor())
	return verdict(result.Met(), interrupted)
}

// play is the session with its files.
func (f *serveFlags) play(ctx context.Context, a *app, s *sim.Scenario) (*sim.Result, error) {
	defer f.files.discard()
	if err := f.open(); err != nil {
		return nil, err
	}
	journal, err := openJournal(f.journal)
	if err != nil {
		return nil, err
	}
	defer journal.close()
	f.opts.Trace, f.opts.Report, f.opts.Ready = f.traceTo, f.wanted(), a.out
	if journal != nil {
		f.opts.Journal, f.opts.Ready = journal, &readiness{a.out, journal}
	}
	result, err := sim.Serve(ctx, s, f.opts)
	if err != nil {
		return nil, err
	}
	if err := journal.close(); err != nil {
		return nil, err
	}
	return result, f.publish(a, result)
}

func (f *serveFlags) checkFlags(args []string) (err error) {
	if s := f.opts.Speed; !(s >= 0.1 && s <= 3600) {
		return usagef("--speed %g: expected 0.1 to 3600", s)
	}
	for _, at := range []struct{ flag, value string }{
		{"snmp", f.opts.SNMP}, {"ssh", f.opts.SSH}, {"bench", f.opts.Bench},
	} {
		if f.opts.Real && at.flag != "bench" {
			continue // checkBind has seen it
		}
		for _, one := range ofUnits(at.flag, at.value) {
			if !isAddress(one, anyPort) {
				return usagef("--%s %q: expected HOST:PORT with a port from 0 to 65535, such as 127.0.0.1:0", at.flag, at.value)
			}
		}
	}
	files := append(f.named(args), namedFile{"journal", f.journal}, namedFile{"ready-file", f.opts.ReadyFile}, namedFile{"host-key", f.opts.HostKey})
	for _, link := range ofUnits("serial", f.opts.Serial) {
		files = append(files, namedFile{"serial", link})
	}
	if err := distinct(files...); err != nil {
		return err
	}
	if f.opts.Peers, err = peers(f.peers); err != nil {
		return err
	}
	f.opts.Receivers, err = receivers(f.maps)
	return err
}

// ofUnits is what stands in a flag for the cards of the units, in order; there is one
// bench.
func ofUnits(flag, value string) []string {
	if flag == "bench" {
		return []string{value}
	}
	return strings.Split(value, ",")
}
