package scenario

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

type cardTable struct {
	table
	SerialNumber *string `key:"serial_number" auto:"from the seed" min:"1" max:"31" ascii:"yes" doc:"Serial number on the factory label."`
	Model        string  `key:"model" def:"Network card SIMULATION" max:"63" ascii:"yes" doc:"Model of the card."`
	Firmware     string  `key:"firmware" def:"1.0" max:"63" ascii:"yes" doc:"Firmware of the card."`
	Hardware     *string `key:"hardware_address" auto:"from the seed, locally administered" doc:"Hardware (MAC) address, six pairs of hexadecimal digits with colons."`
	User         string  `key:"user" def:"technician" min:"1" max:"32" ascii:"yes" doc:"Factory login. Its password is derived from seed and serial number and stands on the label."`

	MustChange bool           `key:"must_change_password" def:"true" doc:"The password on the label opens the factory login once, to set another one. false: it has been through that, and what stands on the label is its password: for tests and drills about something else."`
	Accounts   []accountTable `key:"account" max:"15" doc:"An account beside the factory login. Written [[card.account]]."`
	SignIn     *signInTable   `key:"sign_in" auto:"the defaults" doc:"What is set for signing in."`
	RADIUS     []radiusTable  `key:"radius" max:"3" doc:"A RADIUS server that is set on the card. Written [[card.radius]]."`
	LDAP       []ldapTable    `key:"ldap" max:"3" doc:"An LDAP server that is set on the card. Written [[card.ldap]]."`

	Name     *string `key:"name" auto:"ups- and the last six characters of the serial number" max:"255" ascii:"yes" doc:"Name of the card (sysName)."`
	Location string  `key:"location" def:"" max:"255" ascii:"yes" doc:"Where it is (sysLocation)."`
	Contact  string  `key:"contact" def:"" max:"255" ascii:"yes" doc:"Who looks after it (sysContact)."`
	UPSName  string  `key:"ups_name" def:"" max:"63" ascii:"yes" doc:"Name of the unit (upsIdentName)."`
	Attached *string `key:"attached" auto:"the names of the hosts" max:"63" ascii:"yes" doc:"What is fed (upsIdentAttachedDevices)."`

	Address string      `key:"address" def:"dhcp" max:"64" doc:"\"dhcp\", or a fixed address with the length of its mask such as \"192.0.2.10/24\"."`
	Gateway *netip.Addr `key:"gateway" auto:"none" doc:"Gateway of a fixed address; it lies in the same network."`

	ReadCommunity  *string         `key:"read_community" auto:"from seed and serial number" max:"32" ascii:"yes" secret:"yes" doc:"SNMP read community. There is no common factory word; \"\" switches the access off."`
	WriteCommunity *string         `key:"write_community" auto:"from seed and serial number" max:"32" ascii:"yes" secret:"yes" doc:"SNMP write community, different from the other; \"\" switches the access off."`
	Receivers      []receiverTable `key:"receivers" max:"8" doc:"Where notifications go. The addresses are simulated; serve maps them to loopback."`

	Alerts *alertsTable `key:"alerts" auto:"none: nobody is told by mail or syslog" doc:"Who hears of what, by mail and syslog. [card.md](card.md#alerts) has the events."`

	Versions      []string    `key:"versions" max:"3" auto:"all three" doc:"SNMP versions that the card speaks: \"v1\", \"v2c\", \"v3\". It is silent in the others."`
	ReadView      string      `key:"read_view" def:"all" doc:"View that the communities may read: \"all\", \"none\" or the name of one."`
	WriteView     string      `key:"write_view" def:"all" doc:"View that the write community may write."`
	NotifyView    string      `key:"notify_view" def:"all" doc:"View that notifications under a community must lie in; the others are not sent."`
	Views         []viewTable `key:"view" max:"16" doc:"A part of the tree of object identifiers, for those who may not see all of it. Written [[card.view]]."`
	Users         []userTable `key:"snmp_user" max:"16" doc:"A user of SNMPv3. Written [[card.snmp_user]]. Passwords here are no secrets: they stand in this file. Never put one that is used anywhere else."`
	Conformance   string      `key:"conformance" def:"all" one:"all|full|basic|subset" doc:"How much of RFC 1628 the agent has: every object, or those of one of its compliance statements, subset being that of two-contact units. The others are absent. docs/snmp.md lists them."`
	Private       bool        `key:"own_notifications" def:"true" doc:"Send the notifications of RIDETHROUGH-MIB: outlet groups that were switched, probes that passed a limit."`
	ProbesBy      string      `key:"tell_probes_apart" def:"id" one:"id|socket" doc:"By what the card knows which probe is which: the id that stands on it, or the socket that it is in."`
	EngineTime    string      `key:"engine_time" def:"simulated" one:"simulated|real" doc:"What snmpEngineTime of SNMPv3 follows. Managers allow 150 s between it and their own clock: at 60 times real time simulated time leaves that after 2.5 s, and real does not."`
	ReportGarbled bool        `key:"report_garbled" def:"false" doc:"Answer a message that decrypts to nonsense, as a wrong privacy password makes it, with a decryptionErrors report. RFC 3414 leaves it unanswered."`

	Quirks []quirkTable `key:"quirk" max:"64" doc:"A way in which the card departs from the standards, each at most once. Written [[card.quirk]]. [quirks.md](quirks.md) has them all."`

	Set *freeForm `key:"settings" auto:"none" doc:"What a technician has set on the card besides: paths of [settings.md](settings.md) in quotes and their values as text. A path in an entry of a list that is not there adds the entry."`

	Releases []releaseTable `key:"release" max:"8" doc:"A version of the card's firmware that it can be updated to. Written [[card.release]]. docs/card.md has more."`
	Clock    clockTable     `key:"clock" doc:"The card's own clock. Written [card.clock]."`

	RestartPct *int64     `key:"restart_charge_pct" auto:"not used" min:"1" max:"95" doc:"Factory value of the charge that the battery needs before the unit lets its output come on after an outage."`
	RestartOff vtime.Tick `key:"restart_off" def:"0s" min:"0s" max:"1h" doc:"Factory value of how long the output stays off at least."`

	BootTakes     vtime.Tick `key:"boot_takes" def:"75s" min:"0s" max:"1h" doc:"From power or restart to the first answer."`
	Watchdog      vtime.Tick `key:"watchdog" def:"60s" word:"none" min:"1s" max:"24h" doc:"A card that hangs restarts after this; none: it hangs until it is restarted by hand."`
	UPSLinkTakes  vtime.Tick `key:"ups_link_takes" def:"0s" min:"0s" max:"1h" doc:"How long the card tries speeds, from its first answer after a start to its first contact with the unit. Until then there is nothing to show of the unit. Where upkeep.unit-speed is set right it takes no time."`
	UPSLinkSpeed  int64      `key:"ups_link_speed" def:"2400" min:"1200" max:"38400" doc:"Speed at which the unit speaks with its card: 1200, 2400, 4800, 9600, 19200 or 38400 bit/s. The figure is ours."`
	UPSLinkFound  bool       `key:"ups_link_found" def:"true" doc:"The card finds that speed by itself. If not it has no contact until somebody sets it (upkeep.unit-speed) and restarts the card."`
	Lookups       string     `key:"lookups" def:"beside" one:"beside|blocking" doc:"blocking is a card that sends nothing while it waits for a name to be found: no mail, no syslog, no notification."`
	Journal       string     `key:"journal" def:"kept" one:"kept|volatile" doc:"Whether the journals of the card outlive its restarts: volatile is a card that has them in memory without a battery. Each start then empties both, and says how many entries are lost."`
	RestartAborts bool       `key:"restart_aborts" def:"false" doc:"A restart of the card loses a running shutdown countdown, as RFC 1628 allows."`
}

// quirkTable is a quirk in the file or from the bench. Which settings a quirk has,
// and their defaults and limits, is in its entry of the catalogue.
type quirkTable struct {
	table
	Name    string      `key:"name" need:"yes" doc:"Which quirk it is: one of [quirks.md](quirks.md). In the timeline also \"all\", with off."`
	Off     bool        `key:"off" def:"false" doc:"It is not in force, or not any more: for the timeline, the bench and variants."`
	Objects []string    `key:"objects" max:"64" auto:"those of the quirk" doc:"Objects that it touches, by their names in RFC 1628."`
	Alarms  []string    `key:"alarms" max:"24" auto:"none" doc:"Alarms that it touches."`
	Count   *int64      `key:"count" auto:"that of the quirk" min:"0" max:"1000" doc:"How many: variables, rows, requests or messages."`
	Value   *int64      `key:"value" auto:"that of the quirk" min:"-2147483648" max:"2147483647" doc:"The value that it shows."`
	Percent *float64    `key:"percent" auto:"that of the quirk" min:"0.1" max:"100" doc:"How many of the messages it touches. Which, is drawn from the seed."`
	Delay   *vtime.Tick `key:"delay" auto:"that of the quirk" min:"1ms" max:"10s" doc:"A delay in real time, whatever the pace: clients have real time-outs."`
	Lasts   *vtime.Tick `key:"lasts" auto:"that of the quirk" min:"1s" max:"11928h" doc:"A time in the simulation."`
}

type receiverTable struct {
	table
	To        netip.AddrPort `key:"to" need:"yes" doc:"Address and port, such as \"198.51.100.20:162\"."`
	Version   string         `key:"version" def:"v2c" one:"v1|v2c|v3" doc:"SNMP version of the notifications."`
	Community *string        `key:"community" auto:"the card's read community" min:"1" max:"32" ascii:"yes" secret:"yes" doc:"Community that they carry; v1 and v2c only."`
	User      *string        `key:"user" auto:"none; needed for v3" min:"1" max:"32" ascii:"yes" doc:"User under whose name they are sent; v3 only."`
	Level     *string        `key:"level" auto:"that of the user" one:"noAuthNoPriv|authNoPriv|authPriv" doc:"Security level at which they are sent; v3 only."`
	Classes   string         `key:"classes" def:"all" max:"200" ascii:"yes" doc:"What the notifications are about that go there: all, or words with commas between them; see [card.md](card.md#alerts)."`
	Least     string         `key:"least" def:"info" one:"info|warning|critical" doc:"Least severity of what they tell."`
	Inform    bool           `key:"inform" def:"false" doc:"They are informs, which the receiver acknowledges; not in v1."`
	Retries   int64          `key:"retries" def:"3" min:"0" max:"10" doc:"How often an inform without an acknowledgement is repeated."`
	Timeout   vtime.Tick     `key:"timeout" def:"2s" min:"10ms" max:"1m" doc:"Until an inform is repeated the first time; twice as long before each further time. Real time, whatever the pace."`
}

type viewTable struct {
	table
	Name    string   `key:"name" need:"yes" min:"1" max:"32" ascii:"yes" doc:"Its name, unique in the file."`
	Include []string `key:"include" max:"32" need:"yes" doc:"Object identifiers whose subtrees are in it, such as \"1.3.6.1.2.1.33\"."`
	Exclude []string `key:"exclude" max:"32" auto:"none" doc:"Those whose subtrees are not. Of several the longest counts."`
}

type userTable struct {
	table
	Name         string  `key:"name" need:"yes" min:"1" max:"32" ascii:"yes" doc:"User name, unique in the file."`
	Auth         string  `key:"auth" def:"none" one:"none|md5|sha-1|sha-224|sha-256|sha-384|sha-512" doc:"Authentication protocol."`
	AuthPassword *string `key:"auth_password" auto:"none; needed with auth" min:"8" max:"64" ascii:"yes" secret:"yes" doc:"Authentication password."`
	Priv         string  `key:"priv" def:"none" one:"none|des|aes-128|aes-192-blumenthal|aes-256-blumenthal|aes-192-reeder|aes-256-reeder" doc:"Privacy protocol. AES with more than 128 bits was never standardised; the two forms make long keys of short digests in different ways."`
	PrivPassword *string `key:"priv_password" auto:"none; needed with priv" min:"8" max:"64" ascii:"yes" secret:"yes" doc:"Privacy password."`
	Level        *string `key:"level" auto:"the best that auth and priv allow" one:"noAuthNoPriv|authNoPriv|authPriv" doc:"Security level that requests and notifications need at least."`
	Read         string  `key:"read" def:"all" doc:"View that the user may read: \"all\", \"none\" or the name of one."`
	Write        string  `key:"write" def:"none" doc:"View that the user may write."`
	Notify       string  `key:"notify" def:"all" doc:"View that notifications to the user must lie in."`
}
