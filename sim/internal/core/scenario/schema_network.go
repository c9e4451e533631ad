package scenario

import (
	"net/netip"

	"ridethrough/sim/internal/core/vtime"
)

type networkTable struct {
	table
	DHCP    string       `key:"dhcp" def:"present" one:"present|absent|late" doc:"Whether there is an address server, and whether it comes up late."`
	Late    *vtime.Tick  `key:"late" auto:"none; needed when dhcp is late" min:"1s" max:"8760h" doc:"When it comes up."`
	Offer   netip.Prefix `key:"offer" def:"192.0.2.10/24" doc:"Address that it offers, with the length of the mask."`
	Gateway *netip.Addr  `key:"gateway" auto:"first address of the offered network" doc:"Gateway that it offers; it lies in the same network."`
	Lease   vtime.Tick   `key:"lease" def:"24h" min:"1m" max:"8760h" doc:"How long a lease lasts. The card asks for more after a half of it, of any server after seven eighths (RFC 2131)."`
	DNS     []string     `key:"dns" max:"2" auto:"none" doc:"Name servers that it tells."`
	At      *string      `key:"dhcp_at" auto:"the core" doc:"Switch that the address server hangs on."`

	Subnet   *netip.Prefix `key:"subnet" auto:"that of the card's fixed address, else of the offer" doc:"Network of the card's segment as it truly is, whatever the card is set to."`
	Router   *netip.Addr   `key:"router" auto:"card.gateway, else gateway, if it lies in subnet" doc:"The router of that segment as it truly is."`
	RouterAt *string       `key:"router_at" auto:"the core" doc:"Switch that the router hangs on."`
	Prefix6  *netip.Prefix `key:"prefix6" auto:"none" doc:"IPv6 network that the router advertises, such as \"2001:db8:1::/64\"."`
	Router6  *netip.Addr   `key:"router6" auto:"first address of prefix6" doc:"The router's own address in it."`
	Switch   *string       `key:"switch" auto:"the core" doc:"Switch that the card hangs on. While that has no power the card's port has no link."`
	Taken    []string      `key:"taken" max:"16" auto:"none" doc:"Addresses of that segment that other machines have, so that the card cannot."`

	LossPct      float64    `key:"loss_pct" def:"0" min:"0" max:"100" doc:"How much of what goes over the card's link arrives damaged and so not at all, each way, drawn from the seed, as with a bad lead. docs/card.md says what that does to each protocol, in a run and served."`
	Delay        vtime.Tick `key:"delay" def:"0s" min:"0s" max:"10s" doc:"How long a packet is on the card's link, each way."`
	Jitter       vtime.Tick `key:"jitter" def:"0s" min:"0s" max:"10s" doc:"How much longer at most, drawn for each packet."`
	BurstLossPct float64    `key:"burst_loss_pct" def:"0" min:"0" max:"100" doc:"How much is lost of what comes in a burst, each way, as at a congested uplink: no counter of the card shows it."`
	BurstPackets int64      `key:"burst_packets" def:"4" min:"1" max:"1000" doc:"More packets than so many within burst_window, both ways together, are a burst: common practice, the figure is ours."`
	BurstWindow  vtime.Tick `key:"burst_window" def:"100ms" min:"1ms" max:"1m" doc:"See burst_packets."`
	MismatchPct  float64    `key:"mismatch_loss_pct" def:"40" min:"0" max:"100" doc:"In place of burst_loss_pct, if it is more, while the card's port and that of the switch differ in duplex: the one sends while the other does, and collisions that only one of them sees take frames with them. The figure is ours; it depends on the traffic."`
	PortMode     string     `key:"port_mode" def:"auto" one:"auto|10-half|10-full|100-half|100-full" doc:"Speed and duplex of the switch's port at the other end of the card's link: auto negotiates (IEEE 802.3 clause 28), the others are fixed. The card's own is its setting reach.link-mode."`
	PortVLAN     int64      `key:"port_vlan" def:"0" min:"0" max:"4094" doc:"VLAN that the port carries with a tag (IEEE 802.1Q); 0: frames without one. If it is not that of the card's setting reach.vlan, nothing passes."`
}

type switchTable struct {
	table
	Name   string     `key:"name" need:"yes" doc:"Its name: lower-case letters, digits and underscores."`
	Group  *string    `key:"group" auto:"it never loses its power" doc:"Outlet group that feeds it; one that is fed by the mains is past the UPS."`
	Uplink *string    `key:"uplink" auto:"the core, which is always there" doc:"Switch between it and the core; it stands earlier in the file."`
	Boots  vtime.Tick `key:"boot_takes" def:"60s" min:"0s" max:"1h" doc:"From power to forwarding: common practice."`
}

type peerTable struct {
	table
	Name    string       `key:"name" need:"yes" doc:"Its name: lower-case letters, digits and underscores."`
	Address netip.Prefix `key:"address" need:"yes" doc:"Its address, with the length of its mask."`
	Gateway *string      `key:"gateway" auto:"the right one" max:"64" doc:"Address of the gateway that it uses, or \"none\"."`
	Segment *string      `key:"segment" auto:"by its address" one:"card|remote" doc:"Whether it is on the card's segment or behind the router."`
	Switch  *string      `key:"switch" auto:"the core" doc:"Switch that it hangs on."`
	Host    *string      `key:"host" auto:"a machine that always runs" doc:"Host that it is: it is there only while that is at work."`
}

// netEntry is what a timeline entry does to the network.
type netEntry struct {
	table
	Offer   *netip.Prefix `key:"offer" auto:"as before" doc:"Address that the address server has for the card from now on."`
	Claim   *netip.Addr   `key:"claim" auto:"none" doc:"Address that another machine takes."`
	Release *netip.Addr   `key:"release" auto:"none" doc:"Address that another machine gives up."`
	LossPct *float64      `key:"loss_pct" auto:"as before" min:"0" max:"100" doc:"How much of what goes over the card's link is lost from now on, each way."`
	Delay   *vtime.Tick   `key:"delay" auto:"as before" min:"0s" max:"10s" doc:"How long a packet is on the card's link from now on, each way."`
	Jitter  *vtime.Tick   `key:"jitter" auto:"as before" min:"0s" max:"10s" doc:"How much longer at most."`
	Burst   *float64      `key:"burst_loss_pct" auto:"as before" min:"0" max:"100" doc:"How much is lost of what comes in a burst from now on."`
	Port    *string       `key:"port_mode" auto:"as before" one:"auto|10-half|10-full|100-half|100-full" doc:"Speed and duplex of the switch's port from now on."`
	VLAN    *int64        `key:"port_vlan" auto:"as before" min:"0" max:"4094" doc:"VLAN that the port carries from now on."`
	Router  *string       `key:"router" auto:"as before" one:"present|absent" doc:"The router comes or goes."`
	Gateway *netip.Addr   `key:"gateway" auto:"as before" doc:"Gateway that the address server tells from now on, with the next lease that the card gets."`
}
