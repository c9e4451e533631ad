package scenario

import "ridethrough/sim/internal/core/vtime"

type generatorTable struct {
	table
	RatingW    float64    `key:"rating_w" def:"20000" min:"100" max:"10000000" doc:"Rated true power."`
	StartAfter vtime.Tick `key:"start_after" def:"3s" min:"0s" max:"1h" doc:"It is started when the utility has been bad for this long."`
	StartTakes vtime.Tick `key:"start_takes" def:"10s" min:"0s" max:"1h" doc:"From the order to start to voltage at its terminals (NFPA 110 names types after 10, 60 and 120 s)."`
	Settles    vtime.Tick `key:"settles" def:"20s" min:"0s" max:"1h" doc:"How long voltage and frequency wander after that. The wandering dies out evenly."`
	WanderV    *float64   `key:"wander_v" auto:"5 % of nominal_v" min:"0" max:"200" doc:"Largest departure of the voltage at the beginning of that."`
	WanderHz   float64    `key:"wander_hz" def:"1.5" min:"0" max:"20" doc:"Largest departure of the frequency at the beginning of that."`
	Period     vtime.Tick `key:"wander_period" def:"5s" min:"100ms" max:"1h" doc:"Period of the wandering."`
	DroopHz    float64    `key:"droop_hz" def:"1" min:"0" max:"10" doc:"Fall of the frequency from no load to rating_w."`
	StepHz     float64    `key:"step_hz" def:"4" min:"0" max:"50" doc:"Further fall of the frequency, at its deepest, after a load step of rating_w; it passes."`
	StepV      *float64   `key:"step_v" auto:"20 % of nominal_v" min:"0" max:"500" doc:"Fall of the voltage, at its deepest, after a load step of rating_w; it passes."`
	Recovers   vtime.Tick `key:"recovers" def:"1s" min:"100ms" max:"1m" doc:"Time constant with which it passes."`
	CoolsDown  vtime.Tick `key:"cools_down" def:"5m" min:"0s" max:"24h" doc:"How long it runs on without load after the utility has taken over."`
	Failed     bool       `key:"failed" def:"false" doc:"It does not start."`

	Overload  generatorOverloadTable `key:"overload" doc:"What it bears above rating_w, by the law of ups.overload. Common practice."`
	TripVPct  float64                `key:"trip_v_pct" def:"80" min:"0" max:"99" doc:"It trips when its voltage was below this, in percent of nominal, for trip_after. This and the next are what a set of ISO 8528-5 class G2 may fall to after a load step, from memory; 0: never."`
	TripHzPct float64                `key:"trip_hz_pct" def:"90" min:"0" max:"99" doc:"It trips when its frequency was below this, in percent of nominal, for trip_after; 0: never."`
	TripAfter vtime.Tick             `key:"trip_after" def:"5s" min:"0s" max:"10m" doc:"For how long."`
}

type generatorOverloadTable struct {
	table
	At125   vtime.Tick `key:"at_125_pct" def:"60s" min:"1ms" max:"24h" doc:"How long it bears 125 % of the rating, which sets K."`
	Borne   float64    `key:"borne_pct" def:"110" min:"100" max:"1000" doc:"What it bears for ever."`
	Instant float64    `key:"instant_pct" def:"300" min:"101" max:"10000" doc:"What trips it at once."`
	Cools   vtime.Tick `key:"cools_in" def:"5m" min:"1ms" max:"24h" doc:"Time constant with which it cools down."`
}

type changeoverTable struct {
	table
	Gap     vtime.Tick `key:"gap" def:"400ms" min:"1ms" max:"1m" doc:"Dead time of the switch, both ways: it opens before it closes."`
	Accept  vtime.Tick `key:"accept" def:"5s" min:"0s" max:"1h" doc:"The load goes to the generator when that has been within the window for this long."`
	Watch   vtime.Tick `key:"watch" def:"5m" min:"0s" max:"24h" doc:"The load goes back when the utility has been within the window for this long."`
	LowPct  float64    `key:"low_pct" def:"85" min:"10" max:"99" doc:"Lower limit of the voltage in percent of nominal. What was bad is good again 2 points further in."`
	HighPct float64    `key:"high_pct" def:"115" min:"101" max:"200" doc:"Upper limit of the voltage, likewise."`
	HzPct   float64    `key:"hz_pct" def:"10" min:"0.1" max:"50" doc:"Largest departure of the frequency in percent of nominal, either way."`
}

type roomTable struct {
	table
	TempC       *float64   `key:"temp_c" auto:"battery.ambient_c" min:"-20" max:"60" doc:"Temperature at the start."`
	OutsideC    float64    `key:"outside_c" def:"20" min:"-50" max:"60" doc:"Temperature behind its walls."`
	VolumeM3    float64    `key:"volume_m3" def:"40" min:"5" max:"100000" doc:"Its air, at 1.2 kg/m3 and 1005 J/kg/K."`
	EquipmentKg float64    `key:"equipment_kg" def:"500" min:"0" max:"1000000" doc:"What stands in it and warms up with it, at 500 J/kg/K."`
	LeakWPerK   float64    `key:"leak_w_per_k" def:"20" min:"0" max:"100000" doc:"Heat through its walls for each kelvin of difference."`
	OtherHeatW  float64    `key:"other_heat_w" def:"0" min:"0" max:"10000000" doc:"Heat of what the scenario does not list, such as people and lamps."`
	HumidityPct float64    `key:"humidity_pct" def:"45" min:"0" max:"100" doc:"Relative humidity at the start. The moisture stays in the air, so that it falls as the room warms up."`
	CoolingW    float64    `key:"cooling_w" def:"0" min:"0" max:"10000000" doc:"The most heat that the cooling takes away; 0: there is none."`
	SetpointC   float64    `key:"setpoint_c" def:"24" min:"-20" max:"60" doc:"Temperature that the cooling holds."`
	CoolingFrom string     `key:"cooling_from" def:"mains" one:"mains|other" doc:"What the cooling runs on: the site's supply, so that it stops while that is dead, or something that is always there."`
	CoolAfter   vtime.Tick `key:"cooling_restarts" def:"3m" min:"0s" max:"1h" doc:"How long the cooling stays away after its supply has returned."`
}

type probeTable struct {
	table
	Name     string         `key:"name" need:"yes" doc:"Its name, and that of its place: lower-case letters, digits and underscores, starting with a letter."`
	ID       *string        `key:"id" auto:"from seed and name" doc:"Id that stands on it: eight lower-case hexadecimal digits."`
	Every    vtime.Tick     `key:"every" def:"10s" min:"1s" max:"1h" doc:"Time between two measurements."`
	Lag      vtime.Tick     `key:"lag" def:"60s" min:"0s" max:"1h" doc:"Time constant of its body."`
	NoiseK   float64        `key:"noise_k" def:"0.1" min:"0" max:"5" doc:"Largest error of a measurement, either way, drawn by chance."`
	OffsetK  float64        `key:"offset_k" def:"0" min:"-30" max:"30" doc:"How much warmer its place is than the room."`
	Humidity bool           `key:"humidity" def:"false" doc:"It measures relative humidity too."`
	Plugged  bool           `key:"plugged" def:"true" doc:"It is plugged in, the first probe of the file into socket 1 and so on."`
	Paired   bool           `key:"paired" def:"true" doc:"The card was told of it. If not, the settings below are nobody's, and a technician has to pair it."`
	Position string         `key:"position" def:"" max:"63" ascii:"yes" doc:"Where it hangs, for people. This and what follows are settings of the card: what it has from the factory."`
	Unit     string         `key:"unit" def:"celsius" one:"celsius|fahrenheit" doc:"Unit in which the menu shows its temperature."`
	Measures string         `key:"measures_in" def:"celsius" one:"celsius|fahrenheit" doc:"Unit that the probe was built to report in, in tenths."`
	Sends    *string        `key:"set_sends" auto:"as it measures" one:"celsius|fahrenheit" doc:"What the card was told of that. The other one is a classic mistake."`
	Contacts []contactTable `key:"contact" max:"4" doc:"A dry contact that is wired to the probe, such as that of a door or a leak detector. Written [[probe.contact]]."`

	LowCriticalC  *float64   `key:"low_critical_c" auto:"none" min:"-40" max:"100" doc:"Critical below this."`
	LowWarnC      *float64   `key:"low_warn_c" auto:"none" min:"-40" max:"100" doc:"Warning below this."`
	HighWarnC     *float64   `key:"high_warn_c" auto:"none" min:"-40" max:"100" doc:"Warning above this."`
	HighCriticalC *float64   `key:"high_critical_c" auto:"none" min:"-40" max:"100" doc:"Critical above this."`
	HysteresisK   float64    `key:"hysteresis_k" def:"1" min:"0" max:"20" doc:"How far back inside a limit the reading must come."`
	Delay         vtime.Tick `key:"delay" def:"0s" min:"0s" max:"1h" doc:"How long a reading must stay outside a limit before it counts; of humidity and rise too."`

	LowCriticalPct  *float64   `key:"low_critical_pct" auto:"none" min:"0" max:"100" doc:"Critical below this relative humidity."`
	LowWarnPct      *float64   `key:"low_warn_pct" auto:"none" min:"0" max:"100" doc:"Warning below this relative humidity."`
	HighWarnPct     *float64   `key:"high_warn_pct" auto:"none" min:"0" max:"100" doc:"Warning above this relative humidity."`
	HighCriticalPct *float64   `key:"high_critical_pct" auto:"none" min:"0" max:"100" doc:"Critical above this relative humidity."`
	HysteresisPct   float64    `key:"hysteresis_pct" def:"3" min:"0" max:"50" doc:"How far back inside a limit the humidity must come."`
	RiseK           *float64   `key:"rise_k" auto:"none" min:"0.5" max:"50" doc:"Warning when the temperature is so much above the least of rise_in."`
	RiseIn          vtime.Tick `key:"rise_in" def:"10m" min:"1m" max:"1h" doc:"The time over which that counts."`
}

type contactTable struct {
	table
	Name       string     `key:"name" need:"yes" doc:"Its name, unique in the file: lower-case letters, digits and underscores, starting with a letter."`
	Rests      string     `key:"rests" def:"open" one:"open|closed" doc:"What it is while there is nothing to report. A cut wire looks like an open contact: one that rests open then reports nothing any more."`
	Supervised bool       `key:"supervised" def:"false" doc:"A resistor at the end of its loop lets the probe tell a cut wire from an open contact."`
	SetAs      *string    `key:"set_as" auto:"as it rests" one:"open|closed" doc:"What the card was told that it rests as. The other way round is a classic mistake."`
	Debounce   vtime.Tick `key:"debounce" def:"50ms" min:"0ms" max:"1m" doc:"How long it must stay open or closed before that counts."`
	Severity   string     `key:"severity" def:"warning" one:"info|warning|critical" doc:"How much it weighs."`
}
