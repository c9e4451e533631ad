// Package sim is ridethrough as a library: a UPS, its network card and the
// machines behind it, in software only, played from a scenario file.
//
//	s, err := sim.Load("scenarios/two-rack-outage.toml")
//	if err != nil {
//		return err // *sim.IOError or *sim.InvalidError
//	}
//	result, err := sim.Run(s, sim.RunOptions{})
//	if err != nil {
//		return err
//	}
//	if !result.Met() {
//		result.Brief(os.Stderr)
//	}
//
// [Run] plays a scenario in virtual time, without sockets, in milliseconds.
// [Serve] plays it against the clock on the wall, with the card's own surfaces
// bound to loopback addresses. [Replay] repeats a recorded session and tells
// whether it still comes to the same.
//
// [Study] plays a scenario many times with what its [vary] table names drawn anew.
//
// The same scenario, variant and seed give the same bytes in every artefact.
package sim
