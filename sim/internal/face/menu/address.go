package menu

import (
	"fmt"
	"net/netip"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

// addressForm holds the answers of the address dialog until its last one.
type addressForm struct {
	addr netip.Addr
	net  netip.Prefix
}

const (
	modeHelp = `dhcp: the card asks the address server of the network; have the address reserved
for the hardware address shown above, or it may change. fixed: you type address,
mask and gateway as the address plan says. Enter keeps what is in brackets.
`
	addressHelp = `Type the address with its mask: 192.0.2.10/24 or 192.0.2.10 255.255.255.0.
With the address alone the mask is asked for next. Enter keeps what is in brackets.
`
	maskHelp = `Type the mask as 255.255.255.0 or as the number of its leading one bits: /24.
Enter keeps what is in brackets.
`
	gatewayHelp = `Type the address of the router in the card's own network: without it, or with a
wrong one, only machines of the same network reach the card. - means none, Enter
keeps what is in brackets.
`
)

func (s State) openAddress(v View) (State, Output) {
	s.address = addressForm{}
	c := &v.Dev.Card
	return s.ask(v, askMode, addressNow(c.Address)+row("Hardware", c.Identity.Hardware))
}

func addressNow(a snap.Address) string {
	if !a.Reachable() {
		return row("Address", a.State+", no address yet")
	}
	return row("Address", a.State+" "+a.Prefix.String()+", gateway "+setting.OrNone(a.Gateway))
}

func (s State) takeMode(v View, line string) (State, Output) {
	answer := strings.ToLower(strings.TrimSpace(line))
	if answer == "" {
		answer = string(s.merged(v).Mode)
	}
	switch answer {
	case string(snap.AddressDHCP):
		return s.takeAll(v, "reach.mode", answer)
	case string(snap.AddressFixed):
		return s.ask(v, askAddress, "")
	case "?":
		return s.again(v, modeHelp)
	}
	return s.again(v, "Type dhcp or fixed.\n")
}

func (s State) takeAddress(v View, line string) (State, Output) {
	answer := strings.TrimSpace(line)
	switch kept := s.merged(v).Fixed; {
	case answer == "?":
		return s.again(v, addressHelp)
	case answer == "" && kept.IsValid():
		return s.takeNetwork(v, kept)
	case answer == "":
		return s.again(v, "There is no address to keep.\n"+addressHelp)
	}
	addr, mask, err := setting.SplitAddress(answer)
	if err != nil {
		return s.again(v, sentence(err.Error()))
	}
	if mask == "" {
		s.address.addr = addr
		return s.ask(v, askMask, "")
	}
	return s.takeBits(v, addr, mask)
}

// keptMask is the mask that Enter keeps: that of the fixed address so far.
func (s State) keptMask(v View) string {
	p := s.merged(v).Fixed
	if !p.IsValid() {
		return "none"
	}
	return fmt.Sprintf("/%d", p.Bits())
}

func (s State) takeMask(v View, line string) (State, Output) {
	answer := strings.TrimSpace(line)
	switch kept := s.merged(v).Fixed.IsValid(); {
	case answer == "?":
		return s.again(v, maskHelp)
	case answer == "" && !kept:
		return s.again(v, "There is no mask to keep.\n"+maskHelp)
	case answer == "":
		answer = s.keptMask(v)
	}
	return s.takeBits(v, s.address.addr, answer)
}

func (s State) takeBits(v View, addr netip.Addr, mask string) (State, Output) {
	bits, err := setting.ParseMask(mask)
	if err != nil {
		return s.again(v, sentence(err.Error()))
	}
	return s.takeNetwork(v, netip.PrefixFrom(addr, bits))
}

func (s State) takeNetwork(v View, p netip.Prefix) (State, Output) {
	if err := setting.CheckHost(p); err != nil {
		return s.ask(v, askAddress, sentence(err.Error()))
	}
	s.address.net = p
	return s.ask(v, askGateway, "")
}

func (s State) takeGateway(v View, line string) (State, Output) {
	gateway := s.merged(v).Gateway
	switch answer := strings.TrimSpace(line); answer {
	case "?":
		return s.again(v, gatewayHelp)
	case "":
	case "-", "none":
		gateway = netip.Addr{}
	default:
		typed, err := setting.ParseAddr(answer)
		if err != nil {
			return s.again(v, sentence(err.Error()))
		}
		gateway = typed
	}
	if err := setting.CheckGateway(s.address.net, gateway); err != nil {
		return s.again(v, sentence(err.Error()))
	}
	return s.takeAll(v, "reach.mode", string(snap.AddressFixed), "reach.address", s.address.net.String(),
		"reach.gateway", setting.OrNone(gateway))
}

// takeAll edits settings, each a path and a value that was checked.
func (s State) takeAll(v View, pairs ...string) (State, Output) {
	for i := 0; i < len(pairs); i += 2 {
		if err := s.put(v, pairs[i], pairs[i+1]); err != nil {
			return s.ask(v, askWord, sentence(err.Error()))
		}
	}
	return s.ask(v, askWord, s.reminder(v))
}
