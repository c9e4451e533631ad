package model

import (
	"fmt"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
	"ridethrough/sim/internal/face/ber"
)

// Text is the variable's value for a person, with its unit: "81.6 V", "mains".
// Of a column it is the first row; of a row that is not there, "-".
func (x *Variable) Text(dev *snap.Device, now vtime.Tick) string { return x.RowText(dev, now, 0) }

// RowText is Text for one row of a column, counted from 0.
func (x *Variable) RowText(dev *snap.Device, now vtime.Tick, row int) string {
	v := View{Dev: dev, Now: now}
	if row < 0 || row >= x.Rows(&v) {
		return "-"
	}
	return x.Say(x.At(&v, row))
}

// Say is a value of the variable for a person.
func (x *Variable) Say(value Value) string {
	switch {
	case x.say != nil:
		return x.say(value.Int)
	case x.Syntax.binary:
		return sayOctets(value.Text)
	case x.Syntax.Tag == ber.OctetString:
		return value.Text
	case x.Syntax.Tag == ber.ObjectID:
		return sayOID(value.OID)
	case x.Syntax.Tag == ber.TimeTicks:
		return sayHundredths(value.Int)
	case len(x.Syntax.Enums) > 0:
		return x.sayEnum(value.Int)
	}
	return x.sayNumber(value.Int)
}

func (x *Variable) sayEnum(n int64) string {
	if e, ok := x.Syntax.Enum(n); ok {
		return e.Word
	}
	return strconv.FormatInt(n, 10)
}

// sayNumber puts the decimal point in and the unit behind.
func (x *Variable) sayNumber(n int64) string {
	s := decimal(n, x.Decimals)
	if x.Symbol != "" {
		s += " " + x.Symbol
	}
	return s
}

// decimal is n / 10^decimals with all of its decimals.
// Decimal is n in steps of 10^-decimals, as people write it.
func Decimal(n int64, decimals int) string { return decimal(n, decimals) }

func decimal(n int64, decimals int) string {
	if decimals == 0 {
		return strconv.FormatInt(n, 10)
	}
	sign, scale := "", int64(1)
	if n < 0 {
		sign, n = "-", -n
	}
	for range decimals {
		scale *= 10
	}
	return fmt.Sprintf("%s%d.%0*d", sign, n/scale, decimals, n%scale)
}

// sayOID is the label of a well-known identity, else dotted notation.
func sayOID(oid ber.OID) string {
	for _, ids := range [][]Identity{alarms, tests} {
		for _, id := range ids[1:] {
			if id.OID.Equal(oid) {
				return id.Label
			}
		}
	}
	return oid.String()
}

// sayOctets is octets in hexadecimal with colons.
func sayOctets(s string) string {
	return strings.ReplaceAll(strings.TrimSpace(fmt.Sprintf("% x", s)), " ", ":")
}

// sayHundredths is a span of hundredths of a second as [days d] h:mm:ss.
func sayHundredths(n int64) string {
	s := n / 100
	clock := fmt.Sprintf("%d:%02d:%02d", s/3600%24, s/60%60, s%60)
	if days := s / 86400; days > 0 {
		return fmt.Sprintf("%d d %s", days, clock)
	}
	return clock
}

func sayCountdown(n int64) string {
	if n < 0 {
		return "not set"
	}
	return strconv.FormatInt(n, 10) + " s"
}
