package scenario

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

type clockTable struct {
	table
	Zone     *string    `key:"zone" auto:"the offset that start has" max:"63" ascii:"yes" doc:"Time zone that is set on the card, as in TZ of POSIX: \"UTC0\", \"CET-1CEST,M3.5.0,M10.5.0/3\"."`
	Offset   vtime.Tick `key:"offset" def:"0s" min:"-87600h" max:"87600h" doc:"How far ahead of the true date the clock is at the start; negative: behind."`
	DriftPPM float64    `key:"drift_ppm" def:"0" min:"-500" max:"500" doc:"How much too fast it goes, in parts per million. sysUpTime and snmpEngineTime go with it. A crystal is within some 50; 11.6 are a second in a day."`
	Battery  bool       `key:"battery" def:"true" doc:"It goes on without supply. One that does not begins in 1970 after it."`
	From     string     `key:"from" def:"servers" one:"servers|hand" doc:"Whether the card asks the [[time_server]]s of the site that it knows."`
	Interval vtime.Tick `key:"interval" def:"15m" min:"1m" max:"24h" doc:"How often it asks them."`
	Step     vtime.Tick `key:"step" def:"1s" min:"0s" max:"1h" doc:"A clock that is off by more is set, another is slewed."`
	Limit    vtime.Tick `key:"limit" def:"17m" min:"0s" max:"24h" doc:"A server that is further off a clock that was set is not believed; \"0s\" believes any."`
	Set      *bool      `key:"set" auto:"as battery" doc:"It has been set. One that has not shows 1970 at the start, and nothing that depends on the date is done by it."`
}

type timeServerTable struct {
	table
	Name    string     `key:"name" need:"yes" doc:"Its name: lower-case letters, digits and underscores, starting with a letter."`
	Address netip.Addr `key:"address" need:"yes" doc:"Its address. It is simulated: a run has it answer as is said here; serve asks a real one if --map ADDRESS:123=ENDPOINT names it."`
	Known   bool       `key:"known" def:"true" doc:"It is among the servers that are set on the card."`
	Answers bool       `key:"answers" def:"true" doc:"It answers."`
	WrongBy vtime.Tick `key:"wrong_by" def:"0s" min:"-876000h" max:"876000h" doc:"How far its date is ahead of the true one; negative: behind."`
	Delay   vtime.Tick `key:"delay" def:"20ms" min:"1ms" max:"1m" doc:"From the question to the answer. The card waits 5 s."`
	Stratum int64      `key:"stratum" def:"2" min:"0" max:"16" doc:"How far it is from a reference (RFC 5905): 16 is not synchronised itself."`
	Group   *string    `key:"group" auto:"none: it always has power" doc:"Outlet group that feeds it."`
}

type timeChangeTable struct {
	table
	Name    string      `key:"name" need:"yes" doc:"Name of the time server."`
	Answers *bool       `key:"answers" auto:"as before" doc:"It answers, or not any more."`
	WrongBy *vtime.Tick `key:"wrong_by" auto:"as before" min:"-876000h" max:"876000h" doc:"How far its date is ahead of the true one from now on."`
	Stratum *int64      `key:"stratum" auto:"as before" min:"0" max:"16" doc:"How far it is from a reference from now on."`
}
