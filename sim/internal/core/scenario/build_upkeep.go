package scenario

import (
	"fmt"
	"time"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// upkeep sets journals, data log and battery in s.
func (b *builder) upkeep(t *upkeepTable, s *snap.Settings) error {
	if _, err := time.Parse(time.DateOnly, t.Replaced); err != nil && t.Replaced != "" {
		return b.src.at(t.at("battery_replaced"), fmt.Sprintf("battery_replaced is the text %q", short(t.Replaced)), `a date such as "2024-11-05"`)
	}
	u := snap.Upkeep{
		Events: int(t.Events), System: int(t.System), DataEvery: or(t.DataEvery, vtime.Tick(0)), DataEntries: int(t.DataEntries),
		Replaced: t.Replaced, Packs: int(t.Packs),
	}
	if u.DataEvery%vtime.Second != 0 {
		return b.src.at(t.at("data_every"), "data_every is no number of whole seconds", `an interval such as "5m"`)
	}
	s.SetUpkeep(u)
	return nil
}
