package card

import (
	"encoding/json"
	"fmt"
	"math"

	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/core/vtime"
)

// Memory is everything that a card keeps without supply, one field a section.
// Whoever changes a field calls changed with its address.
type Memory struct {
	SerialNumber string         // of the card whose memory it is
	Boots        uint32         // starts of the agent, the one that has been begun included
	Settings     *snap.Settings // never nil, never changed in place: cards share it until somebody saves
	AuthenTraps  bool
	Accounts     []snap.Account
	Posts        StoredPosts       // messages that wait
	Lease        *KeptLease        // that it had last; nil: none
	UnitSets     []snap.Assignment // what was set on the unit through the card, one of each variable
	Held         []string          // outlet groups that were ordered off
	Firmware     *snap.Firmware    // never nil
	Energy       snap.KeptEnergy   // of the meters, when they were last written down
	DataNumbers  uint32            // the last number in the data log when it was last emptied
	Clock        *KeptClock        // nil: nobody has set it by hand
	Schedule     *KeptSchedule     // nil: no entry has acted
	Certificates []KeptCertificate // that servers have shown; a list that was handed out never changes
}

// section is one part of the memory under its own name. One that is absent is as
// it comes from the factory; one that nobody here knows stays as it is.
type section struct {
	name  string
	at    func(*Memory) any // its field
	reset Level             // the lowest level of reset that empties it; 0: none
	hide  func(*Memory)     // blots out what only surfaces need to know; nil: nothing
}

// sections has a row for every field of [Memory]. A name never comes to mean
// something else.
var sections = []section{
	{"serial-number", func(m *Memory) any { return &m.SerialNumber }, 0, nil},
	{"boots", func(m *Memory) any { return &m.Boots }, 0, nil},
	{"settings", func(m *Memory) any { return &m.Settings }, ResetSettings, nil},
	{"authen-traps", func(m *Memory) any { return &m.AuthenTraps }, ResetSettings, nil},
	{"accounts", func(m *Memory) any { return &m.Accounts }, ResetAccounts, hideAccounts},
	{"posts", func(m *Memory) any { return &m.Posts }, ResetAll, nil},
	{"firmware", func(m *Memory) any { return &m.Firmware }, 0, nil},
	{"lease", func(m *Memory) any { return &m.Lease }, ResetSettings, nil},
	{"unit-sets", func(m *Memory) any { return &m.UnitSets }, 0, nil},
	{"groups-off", func(m *Memory) any { return &m.Held }, 0, nil},
	{"energy", func(m *Memory) any { return &m.Energy }, 0, nil},
	{"data-numbers", func(m *Memory) any { return &m.DataNumbers }, 0, nil},
	{"clock", func(m *Memory) any { return &m.Clock }, 0, nil},
	{"schedule", func(m *Memory) any { return &m.Schedule }, ResetSettings, nil},
	{"certificates", func(m *Memory) any { return &m.Certificates }, ResetSettings, nil},
}

// HostKeySection is where the host keeps the private key of the SSH server: the
// card itself has no use for it.
const HostKeySection = "ssh-host-key"

// changes are what the host has not been told yet.
type changes struct {
	keeps    bool   // there is a host that keeps something
	sections uint64 // a bit for each of sections
	dropped  []string
	told     uint32 // the last entry of the journals that was told
	data     uint32 // and of the data log
}

// changed notes that the field of the memory at that address is another.
func (c *Card) changed(field any) {
	if field == any(&c.kept.Settings) {
		c.revision++
	}
	for i := range sections {
		if sections[i].at(&c.kept) == field {
			c.changes.sections |= 1 << i
			return
		}
	}
	panic("card: no section holds what changed")
}

// Keep is what the host has to keep since the last call, nil for nothing.
func (c *Card) Keep() *snap.Keep {
	ch := &c.changes
	if !ch.keeps || ch.sections == 0 && len(ch.dropped) == 0 && ch.told == c.journal.seq && ch.data == c.data.seq() {
		return nil
	}
	k := &snap.Keep{}
	if ch.sections != 0 || len(ch.dropped) > 0 {
		k.Sections = map[string]json.RawMessage{}
	}
	for i := range sections {
		if ch.sections&(1<<i) != 0 {
			k.Sections[sections[i].name] = pack(sections[i].at(&c.kept))
		}
	}
	for _, name := range ch.dropped {
		k.Sections[name] = nil
	}
	k.Logs = c.journal.since(k.Logs, ch.told)
	k.Logs = c.data.since(k.Logs, ch.data)
	*ch = changes{keeps: true, told: c.journal.seq, data: c.data.seq()}
	return k
}

func encode(v any) json.RawMessage {
	text, err := json.Marshal(v)
	if err != nil {
		panic("card: memory: " + err.Error()) // plain values only: cannot fail
	}
	return text
}

// recall takes up what the card has kept.
func (c *Card) recall() {
	c.kept = c.fresh()
	raw := c.cfg.Memory
	if raw == nil {
		c.kept.Boots, c.boots = c.cfg.Boots, c.cfg.Boots
		return
	}
	dropped, err := c.kept.decode(raw)
	if err != nil {
		panic("card: memory that was not checked: " + err.Error())
	}
	own := *c.kept.Settings
	own.Groups = regroup(c.cfg.Settings.Groups, own.Groups)
	c.kept.Settings = &own
	c.boots = c.kept.Boots
	c.changes.keeps = true
	for i := range sections {
		if raw.Sections[sections[i].name] == nil {
			c.changed(sections[i].at(&c.kept))
		}
	}
	c.recallClock()
	c.journal.recall(raw)
	c.recallData(raw)
	c.changes.told, c.changes.data = c.journal.seq, c.data.seq()
	for _, s := range dropped {
		c.changed(s.at(&c.kept))
		c.journal.add(0, "the memory had a "+s.name+" that makes no sense: dropped")
	}
	if raw.Cut {
		c.journal.seq += snap.MostLost
		c.journal.add(0, fmt.Sprintf("the supply went without warning: up to %d entries before this one may be missing", snap.MostLost))
	}
}

// raiseBoots counts one more start. It does so when the card begins to boot, so
// that the number is kept before anybody hears it.
func (c *Card) raiseBoots() {
	c.kept.Boots = raised(c.boots)
	c.changed(&c.kept.Boots)
}

// Boots counts the starts of the agent, the one that has been begun included.
func (c *Card) Boots() uint32 { return c.kept.Boots }

// CheckMemory says what is wrong with a memory for the card of that serial
// number, in one line.
func CheckMemory(raw *snap.Memory, serial string) error {
	m := Memory{SerialNumber: serial, Settings: new(snap.Settings), Firmware: snap.FirstFirmware()}
	if _, err := m.decode(raw); err != nil {
		return err
	}
	if m.SerialNumber != serial {
		return fmt.Errorf("it is the memory of the card with serial number %q, this card has %q", m.SerialNumber, serial)
	}
	if m.Boots > math.MaxInt32 {
		return fmt.Errorf("section boots: %d, at most %d", m.Boots, math.MaxInt32)
	}
	return checkFirmware(m.Firmware)
}

// decode lays what raw holds over m. What a card can do without, and makes no
// sense, is dropped: it is then as it comes from the factory.
func (m *Memory) decode(raw *snap.Memory) (dropped []*section, err error) {
	for i := range sections {
		s := &sections[i]
		text := raw.Sections[s.name]
		if text == nil {
			continue
		}
		err := unpack(text, s.at(m))
		if lease, ok := s.at(m).(**KeptLease); ok && (err != nil || !(*lease).holds()) {
			*lease = nil
			dropped = append(dropped, s)
		} else if err != nil {
			return nil, fmt.Errorf("section %s: %w", s.name, err)
		}
	}
	return dropped, checkLogs(raw)
}

// holds says whether l is one that a card could have had.
func (l *KeptLease) holds() bool {
	return l == nil || snap.WrongHost(l.Address) == "" && (!l.Gateway.IsValid() || l.Gateway.Is4()) && l.Until > 0 && l.Until <= latestEnd
}

// latestEnd is when the longest lease (RFC 2131: seconds in 32 bits, 136 years) is
// over that the latest clock has seen begin.
var latestEnd = timeLatest + snap.Stamp(math.MaxUint32*vtime.Second)

// Redact is raw without what only the surfaces need to know: enough to repeat a
// session. hide takes the secrets out of the settings. It must have passed
// [CheckMemory].
func Redact(raw *snap.Memory, hide func(*snap.Settings)) *snap.Memory {
	m := Memory{Settings: new(snap.Settings)}
	dropped, err := m.decode(raw)
	if err != nil {
		panic("card: memory that was not checked: " + err.Error())
	}
	hide(m.Settings)
	r := &snap.Memory{Sections: map[string]json.RawMessage{}, Logs: raw.Logs, Cut: raw.Cut}
	for i := range sections {
		s := &sections[i]
		if raw.Sections[s.name] == nil {
			continue
		}
		if s.hide != nil {
			s.hide(&m)
		}
		if r.Sections[s.name] = encode(s.at(&m)); s.at(&m) == any(&m.Settings) {
			r.Sections[s.name] = encode(packed{Settings: m.Settings})
		}
	}
	for _, s := range dropped {
		r.Sections[s.name] = encode(struct{}{}) // which is dropped again
	}
	return r
}

func hideAccounts(m *Memory) {
	for i := range m.Accounts {
		m.Accounts[i].Salt, m.Accounts[i].Verifier = nil, nil
	}
}

// UnitSets are the assignments that the unit has kept.
func (c *Card) UnitSets() []snap.Assignment { return c.kept.UnitSets }

// KeepUnitSet keeps an assignment to the unit in place of an earlier one of the
// same variable. A list that was handed out never changes.
func (c *Card) KeepUnitSet(a snap.Assignment) {
	list := make([]snap.Assignment, 0, len(c.kept.UnitSets)+1)
	for _, kept := range c.kept.UnitSets {
		if kept.Var != a.Var {
			list = append(list, kept)
		}
	}
	c.kept.UnitSets = append(list, a)
	c.changed(&c.kept.UnitSets)
}
