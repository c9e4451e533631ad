package simtest

import (
	"io/fs"

	"ridethrough/sim"
)

// Source is where a scenario comes from.
type Source func(opts ...sim.LoadOption) (*sim.Scenario, error)

// File is the scenario file at path.
func File(path string) Source {
	return func(opts ...sim.LoadOption) (*sim.Scenario, error) { return sim.Load(path, opts...) }
}

// Text is a scenario as text; messages call it scenario.toml.
func Text(toml string) Source {
	return func(opts ...sim.LoadOption) (*sim.Scenario, error) {
		return sim.Parse("scenario.toml", []byte(toml), opts...)
	}
}

// FS is the scenario file of that name in fsys, such as an embed.FS. Programs of
// process hosts start in the current folder.
func FS(fsys fs.FS, name string) Source {
	return func(opts ...sim.LoadOption) (*sim.Scenario, error) {
		text, err := fs.ReadFile(fsys, name)
		if err != nil {
			return nil, err
		}
		return sim.Parse(name, text, opts...)
	}
}

// Default is the built-in scenario: one host, a sag and an outage.
func Default() Source { return sim.Default }

// Option changes how a site is made.
type Option func(*config)

type config struct {
	load     []sim.LoadOption
	serve    sim.ServeOptions
	unjudged bool
}

// Variant applies the variant of that name.
func Variant(name string) Option {
	return func(c *config) { c.load = append(c.load, sim.WithVariant(name)) }
}

// Seed replaces the seed of the scenario.
func Seed(seed uint64) Option {
	return func(c *config) { c.load = append(c.load, sim.WithSeed(seed)) }
}

// Running has simulated time run from the start, at 0.1 to 3600 simulated seconds per
// real second.
func Running(speed float64) Option {
	return func(c *config) { c.serve.Paused, c.serve.Speed = false, speed }
}

// Unjudged leaves the expectations of the scenario to the test, which asks for
// [Site.Verdict].
func Unjudged() Option { return func(c *config) { c.unjudged = true } }

// Serve changes any other option of the session: which endpoint plays a notification
// receiver, where a trace or a journal goes, and so on.
func Serve(change func(*sim.ServeOptions)) Option { return func(c *config) { change(&c.serve) } }
