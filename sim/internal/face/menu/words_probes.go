package menu

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
)

func init() {
	register(
		word{name: "probes", brief: "sockets, probes and contacts; pair, unpair or rename a probe", part: partSurroundings,
			detail: "probes pair SOCKET NAME gives what is in that socket a name: that of its place. If the name is there\nalready, its limits stay: so a probe is replaced. probes unpair NAME, probes rename NAME NEW.\n" +
				"To prove a name, warm the probe by hand and see which reading rises.",
			read: plain(probes), data: probesData,
			acts: []verb{{"pair", &pairProbe}, {"unpair", &unpairProbe}, {"rename", &renameProbe}}},
	)
}

const probeList = "surroundings.probe"

func probes(v View) string {
	var b strings.Builder
	rows := [][]string{{"SOCKET", "PROBE", "NAME"}}
	for i, id := range v.Dev.Probes.Sockets {
		rows = append(rows, []string{strconv.Itoa(i + 1), orDash(id), socketName(v.Dev, i)})
	}
	b.WriteString(table(rows))
	b.WriteString(probeRows(v))
	b.WriteString(contactRows(v))
	return b.String()
}

// socketName is the name of what is in a socket.
func socketName(d *snap.Device, socket int) string {
	for i := range d.Probes.List[:d.Probes.Count] {
		if int(d.Probes.List[i].Socket) == socket+1 && d.Probes.List[i].Read() {
			return d.Probes.List[i].Name
		}
	}
	if d.Probes.Sockets[socket] == "" {
		return ""
	}
	return "(not paired)"
}

func orDash(text string) string {
	if text == "" {
		return "-"
	}
	return text
}

func probeRows(v View) string {
	if v.Dev.Probes.Count == 0 {
		return "No probe is paired: probes pair SOCKET NAME.\n"
	}
	rows := [][]string{{"NAME", "STATE", "READS", "POSITION"}}
	for i := range v.Dev.Probes.List[:v.Dev.Probes.Count] {
		p, set := &v.Dev.Probes.List[i], probeSet(v.Dev, i)
		rows = append(rows, []string{p.Name, stateOfProbe(p), probeReads(p, set), orDash(printable(set.Position))})
	}
	return table(rows)
}

// stateOfProbe is its state and what makes it.
func stateOfProbe(p *snap.Probe) string {
	if p.State == snap.ProbeNormal || !p.Read() {
		return p.State.String()
	}
	return p.State.String() + " (" + p.Cause().String() + ")"
}

// probeReads is the reading in the unit that was set; there is none while it is lost.
func probeReads(p *snap.Probe, set *snap.ProbeSetting) string {
	if !p.Read() {
		return "-"
	}
	text := fmt.Sprintf("%.1f %s", set.Unit.Of(p.TempC), set.Unit.Symbol())
	if p.HasHumidity {
		text += fmt.Sprintf(", %.0f %%", p.HumidityPct)
	}
	return text
}

// probeSet is what the card was told of its i-th probe.
func probeSet(d *snap.Device, i int) *snap.ProbeSetting {
	if list := d.Card.Settings.Surroundings.Probes; i < len(list) {
		return &list[i]
	}
	return &snap.ProbeSetting{}
}

func contactsOf(d *snap.Device) []snap.RosterContact {
	if d.Outlets.Roster == nil {
		return nil
	}
	return d.Outlets.Roster.Contacts
}

func contactRows(v View) string {
	list := contactsOf(v.Dev)
	if len(list) == 0 {
		return ""
	}
	rows := [][]string{{"CONTACT", "STATE", "AT", "SEVERITY", "RESTS"}}
	for i := range list {
		c := &list[i]
		rows = append(rows, []string{c.Name, v.Dev.Contacts[i].String(), fmt.Sprintf("%s, input %d", c.Probe, c.Input), string(c.Severity), string(c.Rests)})
	}
	return table(rows)
}

type socketReading struct {
	Socket int    `json:"socket"`
	ID     string `json:"id"`
	Name   string `json:"name"`
}

type probeReading struct {
	Name        string   `json:"name"`
	ID          string   `json:"id"`
	Socket      int      `json:"socket"`
	Position    string   `json:"position"`
	State       string   `json:"state"`
	Cause       string   `json:"cause,omitempty"`
	TempC       *float64 `json:"temperature_c"` // null while there is none
	HumidityPct *float64 `json:"humidity_pct"`
	RiseK       *float64 `json:"rise_k"`
}

type contactReading struct {
	Name     string `json:"name"`
	State    string `json:"state"`
	Probe    string `json:"probe"`
	Input    int    `json:"input"`
	Severity string `json:"severity"`
}

func probesData(v View, _ []string) any {
	sockets, list, contacts := []socketReading{}, []probeReading{}, []contactReading{}
	for i, id := range v.Dev.Probes.Sockets {
		r := socketReading{Socket: i + 1, ID: id}
		if name := socketName(v.Dev, i); !strings.HasPrefix(name, "(") {
			r.Name = name
		}
		sockets = append(sockets, r)
	}
	for i := range v.Dev.Probes.List[:v.Dev.Probes.Count] {
		list = append(list, readProbe(&v.Dev.Probes.List[i], probeSet(v.Dev, i)))
	}
	for i, c := range contactsOf(v.Dev) {
		contacts = append(contacts, contactReading{c.Name, v.Dev.Contacts[i].String(), c.Probe, c.Input, string(c.Severity)})
	}
	return map[string]any{"sockets": sockets, "probes": list, "contacts": contacts}
}

func readProbe(p *snap.Probe, set *snap.ProbeSetting) probeReading {
	r := probeReading{Name: p.Name, ID: set.ID, Position: printable(set.Position), State: p.State.String()}
	if p.State != snap.ProbeNormal {
		r.Cause = p.Cause().String()
	}
	if !p.Read() {
		return r
	}
	r.Socket = int(p.Socket)
	r.TempC, r.RiseK = &p.TempC, &p.RiseK
	if p.HasHumidity {
		r.HumidityPct = &p.HumidityPct
	}
	return r
}

// newSettings is a command that saves the settings with a change.
func newSettings(v View, change func(*snap.Settings)) snap.Command {
	m := v.Dev.Card.Saved.Clone()
	change(m)
	return snap.Command{Op: snap.OpSave, Settings: m, Revision: v.Dev.Card.Revision}
}

func savedProbe(s *snap.Settings, name string) int {
	return slices.IndexFunc(s.Surroundings.Probes, func(p snap.ProbeSetting) bool { return p.Name == name })
}

var pairProbe = action{
	ask: []question{
		{label: "socket", help: "The number of the socket that the probe is in: probes lists them.", check: fullSocket},
		{label: "name", help: "Its place: a name that is new, or one that is there and gets another probe.", check: pairName},
	},
	command: func(v View, given []string) snap.Command {
		return newSettings(v, func(s *snap.Settings) {
			i := savedProbe(s, given[1])
			if i < 0 {
				if l, err := setting.FindList(probeList); err == nil && l.Add(s, given[1]) == nil {
					i = savedProbe(s, given[1])
				}
			}
			if i >= 0 {
				s.Surroundings.Probes[i].ID = inSocket(v, given[0])
			}
		})
	},
	done: func(_ View, given []string) string {
		return fmt.Sprintf("Paired: what is in socket %s is %s. Set its limits: edit %s.%s\n", given[0], given[1], probeList, given[1])
	},
}

// inSocket is the id of the probe in the socket of that number, "" for none.
func inSocket(v View, number string) string {
	n, err := strconv.Atoi(number)
	if err != nil || n < 1 || n > snap.MaxProbes {
		return ""
	}
	return v.Dev.Probes.Sockets[n-1]
}

func fullSocket(v View, _ []string, answer string) (string, error) {
	n, err := strconv.Atoi(answer)
	switch {
	case err != nil || n < 1 || n > snap.MaxProbes:
		return "", fmt.Errorf("%q is no socket: a number from 1 to %d", answer, snap.MaxProbes)
	case inSocket(v, answer) == "":
		return "", fmt.Errorf("there is no probe in socket %d: plug it in first", n)
	}
	return strconv.Itoa(n), nil
}

func pairName(v View, given []string, answer string) (string, error) {
	name, id := strings.ToLower(answer), inSocket(v, given[0])
	for i := range v.Dev.Card.Saved.Surroundings.Probes {
		if p := &v.Dev.Card.Saved.Surroundings.Probes[i]; p.ID == id && p.Name != name {
			return "", fmt.Errorf("that probe is %s already: probes rename %s %s, or probes unpair %s first", p.Name, p.Name, name, p.Name)
		}
	}
	if i := savedProbe(&v.Dev.Card.Saved, name); i >= 0 {
		other := v.Dev.Card.Saved.Surroundings.Probes[i].ID
		if at := slices.Index(v.Dev.Probes.Sockets[:], other); at >= 0 && other != "" && other != id {
			return "", fmt.Errorf("%s is the probe in socket %d: choose another name, or probes unpair %s first", name, at+1, name)
		}
		return name, nil
	}
	return newProbeName(v, name)
}

// newProbeName is a name that a further probe could have.
func newProbeName(v View, name string) (string, error) {
	l, err := setting.FindList(probeList)
	if err != nil {
		return "", err
	}
	return name, l.Add(v.Dev.Card.Saved.Clone(), name)
}

func knownProbe(v View, _ []string, answer string) (string, error) {
	name := strings.ToLower(answer)
	if savedProbe(&v.Dev.Card.Saved, name) < 0 {
		return "", fmt.Errorf("there is no probe %q: probes lists them", answer)
	}
	return name, nil
}

var unpairProbe = action{
	ask: []question{{label: "name", help: "The name of a probe. Its limits and contacts stay, for the probe that replaces it.", check: knownProbe}},
	command: func(v View, given []string) snap.Command {
		return newSettings(v, func(s *snap.Settings) {
			if i := savedProbe(s, given[0]); i >= 0 {
				s.Surroundings.Probes[i].ID = ""
			}
		})
	},
	done: func(_ View, given []string) string {
		return fmt.Sprintf("Unpaired. %s reads nothing until another probe is paired with it; remove %s %s takes it away.\n", given[0], probeList, given[0])
	},
}

var renameProbe = action{
	ask: []question{
		{label: "name", help: "The name of a probe as it is now.", check: knownProbe},
		{label: "new name", help: "Its place: lower-case letters, digits, hyphens and underscores.", check: func(v View, _ []string, answer string) (string, error) {
			name := strings.ToLower(answer)
			if savedProbe(&v.Dev.Card.Saved, name) >= 0 {
				return "", fmt.Errorf("there is a probe %q already", name)
			}
			m := v.Dev.Card.Saved.Clone()
			m.Surroundings.Probes = nil // a full list is no hindrance
			l, err := setting.FindList(probeList)
			if err != nil {
				return "", err
			}
			return name, l.Add(m, name)
		}},
	},
	command: func(v View, given []string) snap.Command {
		return newSettings(v, func(s *snap.Settings) {
			if i := savedProbe(s, given[0]); i >= 0 {
				s.Surroundings.Probes[i].Name = given[1]
			}
			for i := range s.Surroundings.Contacts {
				if c := &s.Surroundings.Contacts[i]; c.Probe == given[0] {
					c.Probe = given[1]
				}
			}
		})
	},
	done: func(_ View, given []string) string {
		return fmt.Sprintf("Renamed: %s is %s now. Rules of managers that look for the old name have to follow.\n", given[0], given[1])
	},
}
