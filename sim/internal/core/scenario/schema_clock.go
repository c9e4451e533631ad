package scenario

import "ridethrough/sim/internal/core/vtime"

type clockTable struct {
	table
	Zone     *string    `key:"zone" auto:"the offset that start has" max:"63" ascii:"yes" doc:"Time zone that is set on the card, as in TZ of POSIX: \"UTC0\", \"CET-1CEST,M3.5.0,M10.5.0/3\"."`
	Offset   vtime.Tick `key:"offset" def:"0s" min:"-87600h" max:"87600h" doc:"How far ahead of the true date the clock is at the start; negative: behind."`
	DriftPPM float64    `key:"drift_ppm" def:"0" min:"-500" max:"500" doc:"How much too fast it goes, in parts per million. sysUpTime and snmpEngineTime go with it. A crystal is within some 50; 11.6 are a second in a day."`
	Battery  bool       `key:"battery" def:"true" doc:"It goes on without supply. One that does not begins in 1970 after it."`
	Set      *bool      `key:"set" auto:"as battery" doc:"It has been set. One that has not shows 1970 at the start, and nothing that depends on the date is done by it."`
}
