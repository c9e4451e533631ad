package cli

import (
	"cmp"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"ridethrough/sim"
	"ridethrough/sim/internal/core/report"
)

func (a *app) objectsCommand() *cobra.Command {
	asJSON, doors, unit := false, false, unitFlag("")
	cmd := &cobra.Command{
		Use:   "objects [SCENARIO]",
		Short: "List what the card's SNMP agent serves",
		Long:  "List what the card's SNMP agent serves: every object that it knows, or, with\nSCENARIO, every instance with its value when the scenario starts. LEVEL is the\nleast conformance level of RFC 1628 that asks for the object; see\n[card] conformance in docs/scenario.md.\n\nWith --listeners list instead everything that serve opens for others to come in:\nthere is nothing else. Where it is says the ready record.",
		Args:  between(0, 1, "SCENARIO"),
		RunE: func(_ *cobra.Command, args []string) error {
			if doors {
				return a.listeners(args, asJSON)
			}
			list, err := objects(args, unit)
			if err != nil {
				return err
			}
			if asJSON {
				return objectsJSON(a.out, list)
			}
			return objectsTable(a.out, list)
		},
	}
	cmd.Flags().BoolVar(&doors, "listeners", false, "list what serve opens, instead of objects")
	cmd.Flags().BoolVar(&asJSON, "json", false, "write JSON (docs/json.md)")
	unit.add(cmd)
	return cmd
}

func objects(args []string, unit unitFlag) ([]sim.Object, error) {
	if len(args) == 0 && unit != "" {
		return nil, usagef("--unit %s: expected SCENARIO beside it", string(unit))
	}
	if len(args) == 0 {
		return sim.Objects(), nil
	}
	s, err := sim.Load(args[0])
	if err != nil {
		return nil, err
	}
	if s, err = s.Alone(string(unit)); err != nil {
		return nil, err
	}
	return s.Objects()
}

func objectsTable(w io.Writer, list []sim.Object) error {
	if len(list) > 0 && list[0].Value != "" {
		return writeTable(w, "NAME\tOID\tACCESS\tVALUE\tLABEL", list, func(o *sim.Object) string {
			return fmt.Sprintf("%s\t%s\t%s\t%s\t%s", o.Name, o.OID, o.Access, o.Value, o.Label)
		})
	}
	return writeTable(w, "NAME\tOID\tSYNTAX\tACCESS\tLEVEL\tLABEL", list, func(o *sim.Object) string {
		return fmt.Sprintf("%s\t%s\t%s\t%s\t%s\t%s", o.Name, o.OID, o.Syntax, o.Access, cmp.Or(o.Level, "-"), o.Label)
	})
}

type jsonObjects struct {
	Version int          `json:"ridethrough_objects"`
	Objects []jsonObject `json:"objects"`
}

type jsonObject struct {
	Name   string `json:"name"`
	OID    string `json:"oid"`
	Syntax string `json:"syntax"`
	Units  string `json:"units,omitempty"`
	Access string `json:"access"`
	Level  string `json:"level,omitempty"`
	Label  string `json:"label"`
	Value  string `json:"value,omitempty"`
}

func objectsJSON(w io.Writer, list []sim.Object) error {
	out := make([]jsonObject, len(list))
	for i, o := range list {
		out[i] = jsonObject(o)
	}
	return report.WriteJSON(w, jsonObjects{1, out})
}
