package scenario

import "ridethrough/sim/internal/core/vtime"

// condition is the text of an expression with its place.
type condition struct {
	node *node
	text string
}

type entryTable struct {
	table
	Time *vtime.Tick `key:"time" auto:"none" min:"0s" max:"8760h" doc:"When it happens, from the start. Either this or when."`
	When *condition  `key:"when" auto:"none" doc:"Condition at which it happens, once."`
	Name *string     `key:"name" auto:"none" min:"1" max:"80" doc:"Name by which a variant can reach the entry."`
	Note string      `key:"note" def:"" max:"200" doc:"Shown in the timeline."`

	Unit    *string `key:"unit" auto:"the first, or the site" doc:"Name of the [[unit]] to which it happens. Without it what happens to source happens to every unit on that feeder; server, time_server, login_server, dhcp, policy and, of network, router, claim, release and gateway to the site; all else to the first."`
	Devices *string `key:"devices" auto:"all" min:"1" max:"1000" doc:"In a fleet: numbers of the devices to which it happens, such as \"1-100, 205\"."`

	Source    *changeTable  `key:"source" auto:"none" bare:"lost|normal" doc:"Changes the supply: \"lost\", \"normal\" or a table."`
	Card      *string       `key:"card" auto:"none" one:"restart|remove|insert|unseat|hang" doc:"The card restarts; it is pulled out of its slot or put in; unseat pushes it in, or works it loose, so that its contacts do not meet, until insert presses it home; its firmware hangs, until the watchdog restarts it."`
	UnitLink  *string       `key:"ups_link" auto:"none" one:"lost|up" doc:"The connection between card and unit is cut or mended. The card runs on without it, with the alarm communications_lost."`
	Test      *string       `key:"test" auto:"none" one:"general-systems|quick-battery|deep-calibration|abort" doc:"A test is started, or aborted, at the unit's panel."`
	Host      *string       `key:"host" auto:"none" doc:"Name of a host that changes; what changes stands in the five keys below."`
	DrawW     *float64      `key:"draw_w" auto:"as before" min:"0" max:"100000" doc:"With host: what it draws from now on."`
	StopTakes *vtime.Tick   `key:"stop_takes" auto:"as before" min:"0s" max:"24h" doc:"With host: how long it takes to stop from now on."`
	Hangs     *bool         `key:"hangs" auto:"as before" doc:"With host: whether it hangs when told to stop from now on."`
	Channel   *string       `key:"channel" auto:"as before" one:"works|refuses|rejects-credentials|accepts-and-does-nothing|certificate-expired" doc:"With host: what the policy's order to stop meets from now on."`
	Order     *string       `key:"order" auto:"none" one:"stop" doc:"With host: tells it to stop."`
	Alarm     *alarmTable   `key:"alarm" auto:"none" doc:"Raises or clears one of the well-known alarms of RFC 1628."`
	Battery   *replaceTable `key:"battery" auto:"none" doc:"The battery is replaced by new blocks, while the mains carry the load. The unit does not know of it until health = \"reset\"."`
	Health    *string       `key:"health" auto:"none" one:"reset" doc:"Somebody at the card's serial line tells the unit that its battery is new (health-reset)."`
	Charger   *string       `key:"charger" auto:"none" one:"failed|working" doc:"The charger fails or is mended."`
	Quirk     *quirkTable   `key:"quirk" auto:"none" doc:"A quirk of the card comes into force, in place of one of the same name, or with off it goes."`
	Link      *string       `key:"link" auto:"none" one:"down|up" doc:"The network lead of the card is pulled out or put in again."`
	Network   *netEntry     `key:"network" auto:"none" doc:"Something changes on the card's network."`
	DHCP      *string       `key:"dhcp" auto:"none" one:"present|absent" doc:"The address server comes or goes."`
	Output    *string       `key:"output" auto:"none" one:"on|off" doc:"The output is switched at the unit's panel."`
	Generator *string       `key:"generator" auto:"none" one:"failed|working" doc:"The generator fails, running or not, or is mended, or reset after it has tripped."`
	Input     *string       `key:"input" auto:"none" one:"open|closed" doc:"The breaker at the unit's input, which cuts the unit off a supply that others still have."`
	Second    *changeTable  `key:"bypass_source" auto:"none" bare:"lost|normal" doc:"Changes the second feed, which is on the bypass: as source."`
	Cooling   *string       `key:"cooling" auto:"none" one:"failed|working" doc:"The room's cooling fails or is mended."`
	Fan       *string       `key:"fan" auto:"none" one:"failed|working" doc:"The unit's fan fails or is mended."`
	Probe     *cableTable   `key:"probe" auto:"none" doc:"The cable of a probe, or its place."`
	Contact   *wireTable    `key:"contact" auto:"none" doc:"A dry contact opens or closes, or its wire is cut."`
	Bypass    *string       `key:"bypass" auto:"none" one:"on|off|maintenance" doc:"The bypass is switched at the unit's panel: the static switch on, both off, or the switch for maintenance on."`
	Inverter  *string       `key:"inverter" auto:"none" one:"failed|working" doc:"The inverter fails or is mended."`
	Thrifty   *string       `key:"high_efficiency" auto:"none" one:"on|off" doc:"High-efficiency mode is allowed at the unit's panel, or not."`
	Outlet    *outletTable  `key:"outlet" auto:"none" doc:"An outlet group is switched over a surface of the card, without anybody looking at its caution."`
	Remote    *string       `key:"remote_switching" auto:"none" one:"locked|allowed" doc:"At the unit's panel: locked refuses every order to switch from remote."`
	Server    *serverEntry  `key:"server" auto:"none" doc:"A server of the site changes."`
	Policy    *string       `key:"policy" auto:"none" one:"stop|start" doc:"Somebody tells the modelled shutdown manager to stop the site now, whatever feeds it, or lets it start again what was stopped by hand or by temperature: that stays off until then, unless the unit comes on by itself (ups.auto_restart). A stop that has begun is not begun once more."`
	Try       *string       `key:"try" auto:"none" min:"1" max:"64" ascii:"yes" doc:"Somebody at the card's serial line asks for a test message, as with the word try: to the recipient, collector or receiver of that name in the settings, or to \"all\"."`

	NTP      *timeChangeTable `key:"time_server" auto:"none" doc:"A time server changes."`
	Clock    *vtime.Tick      `key:"clock" auto:"none" min:"-876000h" max:"876000h" doc:"Somebody sets the card's clock by hand, this far ahead of the true date; negative: behind."`
	Settings *freeForm        `key:"settings" auto:"none" doc:"Somebody saves settings on the card: paths of [settings.md](settings.md) in quotes and their values as text. What is not accepted is noted, and nothing of it is saved."`

	Firmware *firmwareTable `key:"firmware" auto:"none" bare:"switch|return" doc:"A step of an update of the card's firmware: an image is loaded, \"switch\" restarts the card into it, \"return\" into what ran before."`
	HostKey  *string        `key:"ssh_host_key" auto:"none" one:"new" doc:"The SSH server of the card gets another host key, as after a repair or a reset: clients that know the old one refuse it."`
	Label    *string        `key:"label" auto:"none" one:"changed" doc:"Somebody gives the factory login of the card another password than the one on the label."`

	Reset *string `key:"reset" auto:"none" one:"settings|accounts|all" doc:"Somebody at the card takes it back to the factory's state, which is what [card] says, as far as the word goes; see [card.md](card.md#back-to-the-factorys-state). It restarts with that."`

	ChargePct *float64 `key:"charge_pct" auto:"none" min:"0" max:"100" doc:"Sets the true charge, as if by history."`

	SignIn      *tryTable           `key:"sign_in" auto:"none" doc:"Somebody signs in at the card, and out again."`
	Account     *accountChangeTable `key:"account" auto:"none" doc:"An administrator changes the card's accounts."`
	LoginServer *serverChangeTable  `key:"login_server" auto:"none" doc:"A server that knows users goes down, comes back, or is not to be trusted."`
}

type changeTable struct {
	table
	Word     string
	SagPct   *float64    `key:"sag_pct" auto:"none" min:"0" max:"100" doc:"Voltage that remains, in percent of nominal (IEEE 1159: a sag to 70 % leaves 70)."`
	SwellPct *float64    `key:"swell_pct" auto:"none" min:"100" max:"200" doc:"Voltage that it rises to, in percent of nominal."`
	Volts    *float64    `key:"volts" auto:"nominal" min:"0" max:"600" doc:"Voltage in volts, instead."`
	Hz       *float64    `key:"hz" auto:"nominal" min:"0" max:"100" doc:"Frequency."`
	Lasts    *vtime.Tick `key:"lasts" auto:"until changed" min:"1ms" max:"8760h" doc:"Then the supply is again as it was before."`
	Line     *int64      `key:"line" auto:"all lines" min:"1" max:"3" doc:"Only this line changes its voltage. The supply has three; a unit of one line uses line 1, one of two lines 1 and 2."`
	Over     *vtime.Tick `key:"over" auto:"at once" min:"1s" max:"8760h" doc:"It drifts there evenly over this time, and stays."`

	Count     *int64      `key:"count" auto:"1" min:"2" max:"1000" doc:"A train of this many dips, each lasting lasts."`
	Every     *vtime.Tick `key:"every" auto:"none" min:"2ms" max:"24h" doc:"With count: from the beginning of one to the earliest beginning of the next."`
	Jitter    *vtime.Tick `key:"jitter" auto:"0s" min:"1ms" max:"24h" doc:"With count: each but the first begins up to this much later, drawn by chance."`
	LastsUpTo *vtime.Tick `key:"lasts_up_to" auto:"lasts" min:"1ms" max:"24h" doc:"With count: each lasts a time drawn between lasts and this."`
}

type cableTable struct {
	table
	Unplug *string     `key:"unplug" auto:"none" doc:"Probe whose cable is pulled out."`
	Plug   *string     `key:"plug" auto:"none" doc:"Probe whose cable is put in again. It shows its place with its next measurement."`
	Swap   []string    `key:"swap" max:"2" auto:"none" doc:"Two probes that change their sockets, or their places."`
	Of     *string     `key:"of" auto:"sockets" one:"sockets|places" doc:"With swap: what they change. A card that tells probes apart by id notes new sockets; new places only somebody notices who warms one and looks at the name."`
	Warm   *string     `key:"warm" auto:"none" doc:"Probe whose place becomes warmer or damper than it is by itself, as by a hand, a breath or a blocked duct."`
	ByK    *float64    `key:"by_k" auto:"0" min:"-50" max:"80" doc:"With warm: by how much."`
	ByPct  *float64    `key:"by_pct" auto:"0" min:"-100" max:"100" doc:"With warm: how much damper, in percent of relative humidity."`
	Lasts  *vtime.Tick `key:"lasts" auto:"until changed" min:"1s" max:"8760h" doc:"With warm: for how long."`
}

type wireTable struct {
	table
	Name    string      `key:"name" need:"yes" doc:"Name of the contact."`
	Is      string      `key:"is" need:"yes" one:"open|closed|cut" doc:"What it is from now on. cut is the wire."`
	Bounces *vtime.Tick `key:"bounces" auto:"0s" min:"1ms" max:"10s" doc:"How long it rattles before it comes to rest."`
}

type outletTable struct {
	table
	Group string `key:"group" need:"yes" doc:"Name of the group."`
	Order string `key:"order" need:"yes" one:"off|on|cycle" doc:"What it is to do. cycle switches it off and on again."`
	By    string `key:"by" def:"operator" min:"1" max:"32" ascii:"yes" doc:"Who does it, for the card's journal."`
}

type alarmTable struct {
	table
	Raise *string `key:"raise" auto:"none" doc:"Alarm that appears, such as \"fan_failure\"."`
	Clear *string `key:"clear" auto:"none" doc:"Alarm that goes."`
}

type expectTable struct {
	table
	Name   string      `key:"name" need:"yes" min:"1" max:"80" doc:"Its name, unique in the file."`
	That   condition   `key:"that" need:"yes" doc:"Condition that is claimed."`
	Always *bool       `key:"always" auto:"none" doc:"true: it holds at every moment of the window."`
	Never  *bool       `key:"never" auto:"none" doc:"true: it holds at no moment of the window."`
	Once   *bool       `key:"once" auto:"none" doc:"true: it becomes true exactly once in the window. Being true already does not count."`
	At     *vtime.Tick `key:"at" auto:"none" word:"end" min:"0s" max:"8760h" doc:"It holds at this time, or at the end of the run."`
	By     *vtime.Tick `key:"by" auto:"none" min:"0s" max:"8760h" doc:"It holds at some moment up to this time."`
	Within *vtime.Tick `key:"within" auto:"none" min:"1ms" max:"8760h" doc:"It holds at some moment up to this long after after first held."`
	After  *condition  `key:"after" auto:"the start" doc:"The window of always, never, once and within opens when this first holds."`
	Until  *condition  `key:"until" auto:"the end" doc:"The window of always, never and once closes just before this holds."`
}

type variantTable struct {
	table
	Name   string    `key:"name" need:"yes" min:"1" max:"80" doc:"Its name, unique in the file."`
	Why    string    `key:"why" need:"yes" min:"1" max:"400" doc:"What it shows."`
	Misses []string  `key:"misses" max:"200" doc:"Expectations that are missed in it."`
	Set    *freeForm `key:"set" need:"yes" doc:"What is different: paths in quotes and their values."`
}

// freeForm is the free-form table of a variant.
type freeForm struct{ node *node }

// varyForm is the free-form table of what a study varies.
type varyForm struct{ node *node }

// replaceTable is new blocks, and what went wrong with the job.
type replaceTable struct {
	table
	ChargePct float64 `key:"charge_pct" def:"80" min:"0" max:"100" doc:"Charge of the new blocks as they were delivered. From memory: they lose some on the shelf."`
	OldBlock  string  `key:"old_block" def:"none" one:"none|aged|faulty" doc:"A block of the old battery that was left in one string: an aged one, or the weak_block."`
}
