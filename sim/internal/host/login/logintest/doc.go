// Package logintest runs real servers that know users, FreeRADIUS and slapd of
// Debian, on loopback with a configuration of their own.
package logintest
