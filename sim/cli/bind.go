package cli

import (
	"strings"

	"github.com/spf13/cobra"
)

// checkBind is about where the card's network surfaces are.
func (f *serveFlags) checkBind(cmd *cobra.Command) error {
	switch f.bind {
	case "loopback":
		if f.opts.Interface != "" {
			return usagef("--interface %s: the card is on an interface only with --bind real", f.opts.Interface)
		}
		return nil
	case "real":
		f.opts.Real = true
	default:
		return usagef("--bind %q: expected loopback or real", f.bind)
	}
	if f.opts.Interface != "" && f.opts.Speed != 1 {
		return usagef("--interface %s: a lease lasts real seconds; expected --speed 1", f.opts.Interface)
	}
	for _, at := range []struct {
		flag  string
		value *string
	}{{"snmp", &f.opts.SNMP}, {"ssh", &f.opts.SSH}} {
		if !cmd.Flags().Changed(at.flag) {
			*at.value = ""
		} else if !strings.HasPrefix(*at.value, ":") || !isAddress(*at.value, anyPort) {
			return usagef("--%s %q: with --bind real the host is the card's own; expected a port alone, such as :1161", at.flag, *at.value)
		}
	}
	return nil
}
