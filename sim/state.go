package sim

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"ridethrough/sim/internal/core/backup"
	"ridethrough/sim/internal/core/card"
	"ridethrough/sim/internal/core/report"
	"ridethrough/sim/internal/core/setting"
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/host/memory"
)

// CardState is the memory of one card that nobody serves at present. Nobody can
// serve it before Close.
type CardState struct {
	store  *memory.Store
	serial string
	kept   *snap.Memory
}

// OpenCard opens the memory in a folder that [Serve] was given as State. An empty
// serial number means the only card in it. The error is an *IOError.
func OpenCard(dir, serial string) (*CardState, error) {
	store, err := memory.OpenExisting(dir)
	if err != nil {
		return nil, stateError(dir, err)
	}
	c := &CardState{store: store, serial: serial}
	if err := c.find(); err != nil {
		store.Close()
		return nil, stateError(store.Path(), err)
	}
	return c, nil
}

// Close lets others use the memory again.
func (c *CardState) Close() error { return c.store.Close() }

func (c *CardState) find() error {
	serials, err := c.store.Serials()
	if err != nil {
		return err
	}
	if c.serial == "" && len(serials) == 1 {
		c.serial = serials[0]
	}
	if c.serial != "" {
		c.kept, err = recall(c.store, c.serial)
	}
	switch {
	case err != nil:
		return err
	case c.kept == nil && len(serials) == 0:
		return errors.New("no card is in it")
	case c.kept == nil:
		return fmt.Errorf("which card? In it are %s", strings.Join(serials[:min(len(serials), 20)], ", "))
	}
	return nil
}

// Export is the card's settings as TOML, without secrets. The error is an *IOError.
func (c *CardState) Export() (string, error) {
	s, err := card.SettingsIn(c.kept)
	if err != nil {
		return "", stateError(c.store.Path(), err)
	}
	return backup.Export(c.serial, s), nil
}

// Import takes settings from the text of an export, which messages call name, all
// of it or nothing. What has a caution is taken only where that is confirmed. notes say
// in a line each what stays as it is, and what opens nothing. The error is a
// *CautionError, an *InvalidError or an *IOError.
func (c *CardState) Import(name string, text []byte, confirmed bool) (notes []string, err error) {
	before, err := card.SettingsIn(c.kept)
	if err != nil {
		return nil, stateError(c.store.Path(), err)
	}
	after := before.Clone()
	f, err := backup.Read(name, text)
	var edits []backup.Edit
	if err == nil {
		edits, notes, err = f.Edits(after, c.serial)
	}
	if err == nil {
		err = backup.Apply(edits, after)
	}
	if err != nil {
		return nil, invalidText(name, err)
	}
	k, err := card.PutSettings(c.kept, after)
	if err != nil {
		return nil, invalidText(name, err)
	}
	changes := setting.Diff(before, after)
	if list := setting.Cautions(changes); len(list) > 0 && !confirmed {
		return nil, &CautionError{File: name, Cautions: list}
	}
	for i := range notes {
		notes[i] = "left as it is: " + notes[i]
	}
	return append(notes, c.notes(after, changes)...), c.change(k)
}

// notes tell of what comes to nothing as it is set, as far as the accounts are known.
func (c *CardState) notes(s *snap.Settings, changes []setting.Change) (notes []string) {
	var has func(user string) bool
	if accounts, known, _ := card.AccountsIn(c.kept); known { // what cannot be read is told where it is used
		has = func(user string) bool {
			return slices.ContainsFunc(accounts, func(a snap.Account) bool { return a.User == user })
		}
	}
	for _, note := range setting.Notes(s, setting.EntriesIn(changes), has) {
		notes = append(notes, "note: "+note)
	}
	return notes
}

// Reset takes the card back to the factory's state as far as level goes:
// "settings", "accounts" or "all". The error is an *InvalidError or an *IOError.
func (c *CardState) Reset(level string) error {
	l, ok := card.LevelByName(level)
	if !ok {
		text := fmt.Sprintf("%q is no level of a reset: expected settings, accounts or all", level)
		return &InvalidError{What: text, text: text}
	}
	return c.change(card.ResetMemory(c.kept, l))
}

// change makes a change and looks at what came of it.
func (c *CardState) change(k *snap.Keep) error {
	err := c.store.Card(c.serial).Change(k)
	if err == nil {
		c.kept, err = c.store.Read(c.serial)
	}
	if err != nil {
		return stateError(c.store.Path(), err)
	}
	return nil
}

func invalidText(name string, err error) *InvalidError {
	var p *backup.Problem
	if errors.As(err, &p) {
		return &InvalidError{File: name, Line: p.Line, Column: p.Column, What: p.What, text: report.OneLine(p.Error())}
	}
	return invalidFile(name, err.Error())
}
