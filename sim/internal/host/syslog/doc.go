// Package syslog brings the card's messages to real collectors: over UDP (RFC 5426),
// TCP with the length before each (RFC 6587 section 3.4.1), and TLS (RFC 5425).
package syslog
