// Package schedule is the card's weekly schedule as arithmetic on the calendar:
// when an entry acts next, by the local time of the card's clock. In the night in
// which the clocks go forward an entry in the missing hour acts at the moment of
// the change; in the night in which they go back an entry in the doubled hour acts
// the first time. So each acts once on each of its days, whatever the zone does.
package schedule
