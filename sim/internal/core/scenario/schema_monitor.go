package scenario

import "ridethrough/sim/internal/core/vtime"

type monitorTable struct {
	table
	Peer         *string         `key:"peer" auto:"it reaches the card while that has an address" doc:"Name of the [[peer]] that it runs on. Notifications arrive at it if card.receivers has that address; without a peer, if there is any receiver."`
	PollEvery    vtime.Tick      `key:"poll_every" def:"60s" min:"100ms" max:"1h" doc:"Time between two polls of the card. A notification of an alarm makes it poll at once."`
	Timeout      vtime.Tick      `key:"timeout" def:"2s" min:"10ms" max:"1m" doc:"How long it waits for the answer to a request."`
	Retries      int64           `key:"retries" def:"1" min:"0" max:"20" doc:"How often it repeats a request that is not answered."`
	Objects      int64           `key:"objects" def:"30" min:"1" max:"1000" doc:"Objects that it asks for in a poll."`
	PerRequest   int64           `key:"per_request" def:"30" min:"1" max:"1000" doc:"Objects in one request."`
	LostAfter    int64           `key:"lost_after" def:"3" min:"1" max:"100" doc:"Polls in a row without an answer that make an alert."`
	LowChargePct float64         `key:"low_charge_pct" def:"20" min:"0" max:"100" doc:"An alert when the charge is below it."`
	Version      string          `key:"version" def:"v2c" one:"v1|v2c|v3" doc:"SNMP version in which it asks: the quirks of SNMPv3 act on v3 alone. A card that does not speak it, or whose access list does not name the machine, is silent."`
	Read         *string         `key:"read_community" auto:"that which [card] begins with" max:"32" ascii:"yes" secret:"yes" doc:"Community of v1 and v2c with which it reads, whatever is set on the card later."`
	As           *asTable        `key:"as" auto:"a user of whom nothing is wrong" doc:"Who it is in v3."`
	TicketsFor   []string        `key:"tickets_for" max:"30" doc:"Alarms of RFC 1628 that are worth a ticket, such as \"fan_failure\"."`
	Quiet        vtime.Tick      `key:"quiet" def:"1h" min:"0s" max:"1000h" doc:"A condition with a ticket that comes back within it is the same ticket."`
	Neighbour    *neighbourTable `key:"neighbour" doc:"Another card that it polls after this one, in SNMPv3. A card with the quirk shared-engine-id has the same engine ID."`
	Believe      watching        `key:"believe" doc:"What it makes of what it sees. The second word of each, and the third, is wrong, on purpose."`
}

// asTable is a user of SNMPv3 as a manager has it.
type asTable struct {
	table
	User  string  `key:"user" need:"yes" min:"1" max:"32" ascii:"yes" doc:"Its name. One that the card does not have, or whose passwords or level do not fit, gets nothing; the card's usmStats and its journal say why."`
	Auth  *string `key:"auth_password" auto:"that which [[card.snmp_user]] begins with" max:"64" ascii:"yes" secret:"yes" doc:"Authentication password that it has, whatever is set on the card later. Protocols are those of [[card.snmp_user]], or without one the card's."`
	Priv  *string `key:"priv_password" auto:"that which [[card.snmp_user]] begins with" max:"64" ascii:"yes" secret:"yes" doc:"Likewise the privacy password."`
	Level *string `key:"level" auto:"the best for which it has passwords" one:"noAuthNoPriv|authNoPriv|authPriv" doc:"Security level at which it asks."`
}

type neighbourTable struct {
	table
	Boots int64      `key:"boots" def:"1" min:"1" max:"1000000" doc:"Its snmpEngineBoots."`
	UpFor vtime.Tick `key:"up_for" def:"0s" min:"0s" max:"10000h" doc:"How long it has been up when the scenario begins."`
}

type watching struct {
	table
	Silence  string `key:"silence" def:"alert" one:"alert|fine" doc:"A card that does not answer: an alert of its own, or no news is good news."`
	Gaps     string `key:"gaps" def:"unknown" one:"unknown|zero" doc:"What was not answered: unknown, or written down as 0."`
	AllClear string `key:"all_clear" def:"any" one:"any|notification" doc:"An alert about battery operation is closed by what comes first, a poll or a notification, or by a notification alone."`
	Cycle    string `key:"cycle" def:"apart" one:"apart|in-turn" doc:"Other cards are polled apart from this one, or wait until it has answered or timed out."`
	Resync   string `key:"resync" def:"discover" one:"discover|never" doc:"A card that refuses its SNMPv3 requests as outside the time window, with a clock that looks like a replay: its engine is discovered anew, or never again."`
	Engines  string `key:"engines" def:"by-address" one:"by-address|by-id" doc:"Boots and time of an SNMPv3 engine are kept for each address, or for each engine ID."`
	UpTime   string `key:"uptime" def:"reckoned" one:"reckoned|falls" doc:"What is a restart of the card: boots that have risen or, where these are always 1, a sysUpTime that is no more than the time since the poll before and not where it has to be after its wrap at 497 days; or a sysUpTime that is less than before in any case."`
	Counters string `key:"counters" def:"restart" one:"restart|wrap" doc:"An upsInputLineBads that is less than at the poll before: it began anew if the card has restarted and is not believed otherwise, or it is taken to have wrapped."`
	Tickets  string `key:"tickets" def:"by-condition" one:"by-condition|by-row|once" doc:"A ticket for each condition, for each row that the alarm table ever had, or for the first one alone."`
}
