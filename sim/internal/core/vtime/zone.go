package vtime

import (
	"encoding/binary"
	"fmt"
	"regexp"
	"strings"
	"time"
)

// Zone is the time zone of a rule as IEEE 1003.1 (POSIX) writes it in the
// environment variable TZ: the name of the zone and how far it is behind UTC, and
// where there is daylight saving time its name and the dates between which it
// holds: "UTC0", "CET-1CEST,M3.5.0,M10.5.0/3". The rule holds for all times. It
// does not depend on the files of the machine.
func Zone(rule string) (*time.Location, error) {
	parts := zoneRule.FindStringSubmatch(rule)
	switch {
	case parts == nil:
		return nil, fmt.Errorf("%q is no rule of a time zone: expected it as in TZ of POSIX, such as UTC0 or CET-1CEST,M3.5.0,M10.5.0/3", rule)
	case parts[3] != "" && parts[5] == "":
		return nil, fmt.Errorf("%q: daylight saving time needs its dates, such as ,M3.5.0,M10.5.0/3", rule)
	}
	zone, err := time.LoadLocationFromTZData(rule, zoneFile(rule))
	if err != nil {
		return nil, fmt.Errorf("%q is no rule of a time zone: %w", rule, err)
	}
	if name, _ := time.Unix(0, 0).In(zone).Zone(); name == unusable {
		return nil, fmt.Errorf("%q is no rule of a time zone that can be computed", rule)
	}
	return zone, nil
}

// FixedRule is the rule of a zone that is always as far from UTC as t is.
func FixedRule(t time.Time) string {
	_, ahead := t.Zone()
	if ahead == 0 {
		return "UTC0"
	}
	sign, behind := '+', '-'
	if ahead < 0 {
		sign, behind, ahead = '-', '+', -ahead
	}
	name, hours := fmt.Sprintf("<%c%02d>", sign, ahead/3600), fmt.Sprintf("%c%d", behind, ahead/3600)
	if minutes := ahead / 60 % 60; minutes != 0 {
		name, hours = fmt.Sprintf("<%c%02d%02d>", sign, ahead/3600, minutes), fmt.Sprintf("%s:%02d", hours, minutes)
	}
	return name + hours
}

const (
	zoneName = `([A-Za-z]{3,6}|<[-+A-Za-z0-9]{3,6}>)`
	zoneHour = `[-+]?(?:[01]?\d|2[0-4])(?::[0-5]\d){0,2}`
	zoneDate = `(?:M(?:1[0-2]|0?[1-9])\.[1-5]\.[0-6]|J?\d{1,3})(?:/[-+]?\d{1,3}(?::[0-5]\d){0,2})?`
)

// zoneRule takes a rule apart: name, hours behind UTC, name and hours of daylight
// saving time, its dates.
var zoneRule = regexp.MustCompile(`^` + zoneName + `(` + zoneHour + `)(?:` + zoneName + `(` + zoneHour + `)?)?((?:,` + zoneDate + `){2})?$`)

// unusable is the name that a zone has before its rule holds, which is never.
const unusable = "-"

// zoneFile is a time zone file (RFC 8536, version 2) of one transition long ago,
// from where on its footer, the rule, holds.
func zoneFile(rule string) []byte {
	longAgo := int64(-1 << 40) // seconds: some 35000 years
	header := func(version byte, times int) []byte {
		h := append([]byte("TZif"), version)
		h = append(h, make([]byte, 15)...)
		for _, n := range []int{0, 0, 0, times, 1, len(unusable) + 1} { // isutc, isstd, leaps, transitions, types, names
			h = binary.BigEndian.AppendUint32(h, uint32(n))
		}
		return h
	}
	kind := append([]byte{0, 0, 0, 0, 0, 0}, unusable+"\x00"...) // UTC, standard time, the name at 0
	file := append(header('2', 0), kind...)
	file = append(file, header('2', 1)...)
	file = binary.BigEndian.AppendUint64(file, uint64(longAgo))
	file = append(file, 0)
	file = append(file, kind...)
	return append(file, "\n"+strings.TrimSpace(rule)+"\n"...)
}
