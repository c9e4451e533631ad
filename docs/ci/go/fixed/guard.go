// Package guard stops a machine while its UPS has time left.
package guard

import "github.com/gosnmp/gosnmp"

// Of RFC 1628.
const (
	minutesLeft   = ".1.3.6.1.2.1.33.1.2.3.0" // upsEstimatedMinutesRemaining
	outputSource  = ".1.3.6.1.2.1.33.1.4.1.0"
	shutdownAfter = ".1.3.6.1.2.1.33.1.8.2.0"
	startupAfter  = ".1.3.6.1.2.1.33.1.8.3.0"

	none, normal, battery = 2, 3, 5
)

// Guard guards one machine.
type Guard struct {
	Card    *gosnmp.GoSNMP
	Stop    func() // stops the machine
	ordered bool   // the UPS has been told to switch off
}

// Look looks once; call it every ten seconds.
func (g *Guard) Look() error {
	got, err := g.Card.Get([]string{outputSource, minutesLeft})
	if err != nil {
		return err
	}
	source, left := got.Variables[0].Value, got.Variables[1].Value.(int)
	switch {
	case source == battery && left <= 10 && !g.ordered:
		if err := g.put(shutdownAfter, 180); err != nil {
			return err
		}
		g.ordered = true
		g.Stop()
	case source == none && g.ordered: // dark: on again as soon as there are mains
		g.ordered = false
		return g.put(startupAfter, 0)
	}
	return nil
}

func (g *Guard) put(oid string, value int) error {
	_, err := g.Card.Set([]gosnmp.SnmpPDU{{Name: oid, Type: gosnmp.Integer, Value: value}})
	return err
}
