package scenario

import "net/netip"

// unitTable is a further unit. What the site has in common stands outside of it.
type unitTable struct {
	table
	Name    string        `key:"name" need:"yes" doc:"Its name: lower-case letters, digits and underscores. Groups and timeline entries name it as their unit."`
	Source  *supplyTable  `key:"source" auto:"the feeder of the first unit" doc:"A feeder of its own, as [source]: what happens to source then happens to it only where the entry names the unit."`
	UPS     upsTable      `key:"ups" doc:"As [ups]."`
	Battery batteryTable  `key:"battery" doc:"As [battery]. It stands at its ambient_c, wherever the room of the first unit goes."`
	Card    cardTable     `key:"card" doc:"As [card]."`
	Offer   *netip.Prefix `key:"offer" auto:"that of [network], so many free ones further on" doc:"Address that the address server has for its card."`
	Switch  *string       `key:"switch" auto:"that of [network]" doc:"Switch that its card hangs on."`
}
