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

	Name     *string `key:"name" auto:"ups- and the last six characters of the serial number" max:"255" ascii:"yes" doc:"Name of the card (sysName)."`
	Location string  `key:"location" def:"" max:"255" ascii:"yes" doc:"Where it is (sysLocation)."`
	Contact  string  `key:"contact" def:"" max:"255" ascii:"yes" doc:"Who looks after it (sysContact)."`
	UPSName  string  `key:"ups_name" def:"" max:"63" ascii:"yes" doc:"Name of the unit (upsIdentName)."`
	Attached *string `key:"attached" auto:"the names of the hosts" max:"63" ascii:"yes" doc:"What is fed (upsIdentAttachedDevices)."`

	Address string      `key:"address" def:"dhcp" max:"64" doc:"\"dhcp\", or a fixed address with the length of its mask such as \"192.0.2.10/24\"."`
	Gateway *netip.Addr `key:"gateway" auto:"none" doc:"Gateway of a fixed address; it lies in the same network."`

	ReadCommunity  *string         `key:"read_community" auto:"from seed and serial number" max:"32" ascii:"yes" doc:"SNMP read community. There is no common factory word; \"\" switches the access off."`
	WriteCommunity *string         `key:"write_community" auto:"from seed and serial number" max:"32" ascii:"yes" doc:"SNMP write community, different from the other; \"\" switches the access off."`
	Receivers      []receiverTable `key:"receivers" max:"8" doc:"Where notifications go. The addresses are simulated; serve maps them to loopback."`

	BootTakes     vtime.Tick `key:"boot_takes" def:"75s" min:"0s" max:"1h" doc:"From power or restart to the first answer."`
	RestartAborts bool       `key:"restart_aborts" def:"false" doc:"A restart of the card loses a running shutdown countdown, as RFC 1628 allows."`
}

type receiverTable struct {
	table
	To        netip.AddrPort `key:"to" need:"yes" doc:"Address and port, such as \"198.51.100.20:162\"."`
	Version   string         `key:"version" def:"v2c" one:"v1|v2c" doc:"SNMP version of the notifications."`
	Community *string        `key:"community" auto:"the card's read community" min:"1" max:"32" ascii:"yes" doc:"Community that they carry."`
}

type networkTable struct {
	table
	DHCP    string       `key:"dhcp" def:"present" one:"present|absent|late" doc:"Whether there is an address server, and whether it comes up late."`
	Late    *vtime.Tick  `key:"late" auto:"none; needed when dhcp is late" min:"1s" max:"8760h" doc:"When it comes up."`
	Offer   netip.Prefix `key:"offer" def:"192.0.2.10/24" doc:"Address that it offers, with the length of the mask."`
	Gateway *netip.Addr  `key:"gateway" auto:"first address of the offered network" doc:"Gateway that it offers; it lies in the same network."`
}
