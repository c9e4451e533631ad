// Package timeclient asks real time servers (NTP, RFC 5905) for the card.
package timeclient
