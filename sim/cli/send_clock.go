package cli

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"
)

// clockFlags are what send tells a bench other than an entry.
type clockFlags struct {
	pause, resume, end bool
	speed              float64
	paced              bool // speed is given
	step, within       time.Duration
	until              string
}

// order is one request to a bench.
type order struct {
	path, body string
	long       bool                 // it may take any time
	read       func([]byte) finding // what its answer says; nil: nothing
}

// finding is what an answer comes to.
type finding struct {
	missed bool
	why    string // one line, may be empty
}

func (f *clockFlags) add(cmd *cobra.Command) {
	flags := cmd.Flags()
	flags.BoolVar(&f.pause, "pause", false, "have simulated time stand")
	flags.BoolVar(&f.resume, "resume", false, "have it run again; with --speed at another speed")
	flags.Float64Var(&f.speed, "speed", 0, "simulated seconds per real second from now on, `0.1 to 3600`")
	flags.DurationVar(&f.step, "step", 0, "let `TIME` pass at once, and then stand")
	flags.StringVar(&f.until, "until", "", "let time pass at once until `CONDITION` holds (docs/scenario.md), and then stand")
	flags.DurationVar(&f.within, "within", 0, "the most simulated `TIME` that --until lets pass")
	flags.BoolVar(&f.end, "end", false, "end the session, and write its result as run --json does")
}

// order is what the command line says, which is one thing alone.
func (f *clockFlags) order(cmd *cobra.Command, args []string) (order, error) {
	given := f.given(cmd)
	if len(args) > 0 {
		given = append([]string{"ENTRY"}, given...)
	}
	switch {
	case len(given) == 0:
		return order{}, usagef("send needs ENTRY, or a flag that says what to do")
	case len(given) > 1:
		return order{}, usagef("%s exclude each other", strings.Join(given, " and "))
	case (given[0] == "--until") != cmd.Flags().Changed("within"):
		return order{}, usagef("--until needs --within, a bound for it such as 10m, and nothing else takes one")
	case len(args) > 0:
		return order{path: "/v1/send", body: args[0]}, nil
	}
	f.paced = cmd.Flags().Changed("speed")
	if f.paced && !(f.speed >= 0.1 && f.speed <= 3600) {
		return order{}, usagef("--speed %g: expected 0.1 to 3600", f.speed)
	}
	return f.what(given[0]), nil
}

// given is the flags of which one alone may be given. --resume takes --speed along.
func (f *clockFlags) given(cmd *cobra.Command) (names []string) {
	changed := cmd.Flags().Changed
	for _, flag := range []struct {
		name  string
		given bool
	}{
		{"--pause", f.pause}, {"--resume", f.resume}, {"--speed", changed("speed") && !f.resume},
		{"--step", changed("step")}, {"--until", changed("until")}, {"--end", f.end},
	} {
		if flag.given {
			names = append(names, flag.name)
		}
	}
	return names
}

func (f *clockFlags) what(flag string) order {
	switch flag {
	case "--pause":
		return clockOrder(map[string]any{"running": false})
	case "--resume":
		change := map[string]any{"running": true}
		if f.paced {
			change["speed"] = f.speed
		}
		return clockOrder(change)
	case "--speed":
		return clockOrder(map[string]any{"speed": f.speed})
	case "--step":
		return order{path: "/v1/advance", body: object(map[string]any{"by": f.step.String()}), long: true, read: fine}
	case "--until":
		return untilOrder("/v1/advance", f.until, f.within)
	default:
		return order{path: "/v1/end", long: true, read: readResult}
	}
}

func clockOrder(change map[string]any) order {
	return order{path: "/v1/clock", body: object(change), read: fine}
}

func untilOrder(path, condition string, within time.Duration) order {
	body := object(map[string]any{"until": condition, "within": within.String()})
	return order{path: path, body: body, long: true, read: func(answer []byte) finding {
		var said struct {
			Held   bool
			Values string
		}
		if json.Unmarshal(answer, &said) == nil && said.Held {
			return finding{}
		}
		return finding{true, fmt.Sprintf("%s did not hold within %v: %s", condition, within, said.Values)}
	}}
}

func fine([]byte) finding { return finding{} }

func readResult(answer []byte) finding {
	var said struct{ Met bool }
	if json.Unmarshal(answer, &said) == nil && said.Met {
		return finding{}
	}
	return finding{missed: true}
}

func object(v map[string]any) string {
	text, _ := json.Marshal(v) // texts and numbers: cannot fail
	return string(text)
}

// report writes an answer, and ends with what it comes to.
func (a *app) report(answer []byte, o order) error {
	if _, err := a.out.Write(answer); err != nil {
		return err
	}
	found := o.read(answer)
	if found.why != "" {
		a.say("%s", found.why)
	}
	if found.missed {
		return ended{exitMissed}
	}
	return nil
}
