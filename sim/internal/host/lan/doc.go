// Package lan puts the card on a network interface of this machine: it carries the
// messages of the card's client for addresses to real DHCP servers (RFC 2131) and
// their answers back, and gives the interface the card's addresses for as long as
// the card has them. What to send when, and what to make of the answers, is the
// card's business.
package lan
