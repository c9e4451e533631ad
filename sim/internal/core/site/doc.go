// Package site wires one supply, one UPS with its card, its outlet groups and
// hosts, and the shutdown manager together, and plays the timeline on them.
//
// Between two instants only [device.Physics] moves: [Site.Try] shows where a
// step would lead, [Site.Commit] takes it. At an instant [Site.Settle] lets
// everything that has fallen due happen, until nothing changes any more.
package site
