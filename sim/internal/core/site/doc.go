// Package site wires the supply (utility, generator, changeover switch), one UPS
// with its card, its outlet groups and hosts, the room with its cooling and probes,
// and the shutdown manager together, and plays the timeline on them.
//
// Between two instants only [device.Physics] and the surroundings move: [Site.Try]
// shows where a step would lead, [Site.Commit] takes it. At an instant [Site.Settle]
// lets everything that has fallen due happen, until nothing changes any more.
package site
