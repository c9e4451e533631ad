package scenario

import "ridethrough/sim/internal/core/vtime"

type upkeepTable struct {
	table
	Events      int64       `key:"events" def:"256" min:"50" max:"5000" doc:"Entries that the journal of supply, unit and surroundings keeps."`
	System      int64       `key:"system" def:"256" min:"50" max:"5000" doc:"Entries that the journal of the card and its users keeps."`
	DataEvery   *vtime.Tick `key:"data_every" auto:"off" min:"10s" max:"24h" doc:"Interval at which the card logs its readings."`
	DataEntries int64       `key:"data_entries" def:"1000" min:"50" max:"20000" doc:"Entries that the data log keeps."`
	Replaced    string      `key:"battery_replaced" def:"" max:"10" ascii:"yes" doc:"When the battery was last replaced, such as \"2024-11-05\"; \"\": never."`
	Packs       int64       `key:"battery_packs" def:"1" min:"1" max:"100" doc:"Battery packs of the unit, as entered on the card."`
}
