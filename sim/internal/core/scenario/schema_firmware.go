package scenario

import "ridethrough/sim/internal/core/vtime"

// releaseTable is a version of the card's firmware that there are images of.
type releaseTable struct {
	table
	Name      string       `key:"name" need:"yes" doc:"Its name in this file: lower-case letters, digits and underscores."`
	Version   string       `key:"version" need:"yes" min:"1" max:"31" ascii:"yes" doc:"Version that the card shows while it runs."`
	Note      string       `key:"note" def:"" max:"200" ascii:"yes" doc:"What its maker says of it."`
	After     string       `key:"after" def:"" max:"31" ascii:"yes" doc:"Version that has to run when it is loaded; the card refuses it on any other. Empty: it goes on any."`
	Quirks    []quirkTable `key:"quirk" max:"64" doc:"A quirk that comes into force with it, or with off goes. Those of [[card.quirk]] stay else. Written [[card.release.quirk]], with the keys of [[card.quirk]]."`
	Resets    string       `key:"resets" def:"nothing" one:"nothing|settings|accounts" doc:"What it takes back to the factory's state when it first runs; accounts is the login on the label."`
	Settings  *freeForm    `key:"settings" auto:"none" doc:"Settings that it changes when it first runs: paths in quotes and their values as text, such as { \"reach.mode\" = \"dhcp\" }."`
	Engine    string       `key:"engine_id" def:"kept" one:"kept|new" doc:"new: while it runs the card has another snmpEngineID, which managers with SNMPv3 do not know."`
	HostKey   string       `key:"ssh_host_key" def:"kept" one:"kept|new" doc:"new: the SSH server has another host key from when it first runs on, which clients refuse that know the old one."`
	BootTakes *vtime.Tick  `key:"boot_takes" auto:"that of the card" min:"1ms" max:"1h" doc:"From power or restart to the first answer while it runs."`
	FailsTest bool         `key:"fails_test" def:"false" doc:"It does not pass its own test when it starts: the card goes back to what ran before."`
}

// firmwareTable is a step of an update in the timeline.
type firmwareTable struct {
	table
	Word  string
	Load  string     `key:"load" need:"yes" doc:"Name of the [[card.release]] whose image is sent to the spare slot."`
	Takes vtime.Tick `key:"takes" def:"0s" min:"0s" max:"24h" doc:"How long that takes. What puts the card out of reach before cuts it off."`
	Image string     `key:"image" def:"good" one:"good|wrong-signature|garbled|truncated|other-model|fails-test" doc:"What the image is like: of another maker, changed on the way, cut off, for another model, or one that does not pass its own test."`
}
