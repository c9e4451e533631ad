package snmp

import (
	"ridethrough/sim/internal/core/snap"
	"ridethrough/sim/internal/face/ber"
	"ridethrough/sim/internal/face/model"
)

// set answers a SetRequest (RFC 3416 section 4.2.5): when every variable can take
// its value, all of them go to the engine as one command.
func (w *worker) set(out []byte) ([]byte, fault) {
	p := &w.msg.PDU
	if w.views.Write == nil && w.msg.Version == ber.V3 {
		return out, fault{AuthorizationError, 0}
	}
	sets := make([]snap.Assignment, 0, len(p.VarBinds))
	for i := range p.VarBinds {
		set, status := w.accept(&p.VarBinds[i])
		if status == NoError && names(sets, set) {
			status = InconsistentValue
		}
		if status != NoError {
			return out, fault{status, i + 1}
		}
		sets = append(sets, set)
	}
	if out = append(out, p.Raw...); !w.fits(out) {
		return out, fault{TooBig, 0}
	}
	if f := w.submit(sets); f.status != NoError {
		return out, f
	}
	w.counters.Add(model.InTotalSetVars, len(sets))
	return out, fault{}
}

// accept checks one variable in the order that RFC 3416 gives.
func (w *worker) accept(vb *ber.VarBind) (snap.Assignment, Status) {
	if w.views.Write == nil {
		w.counters.Add(model.InBadCommunityUses, 1)
		return snap.Assignment{}, NoAccess
	}
	if !w.views.Write.Holds(vb.Name) {
		return snap.Assignment{}, NoAccess
	}
	at, exception := w.view.find(vb.Name)
	if exception == ber.NoSuchObject || w.view.at(at).Access != model.ReadWrite {
		return snap.Assignment{}, NotWritable
	}
	set, refusal := w.view.at(at).Accept(vb.Value)
	if refusal != model.Accepted {
		return set, refusals[refusal]
	}
	if exception != 0 { // no row of a table is made by writing to it
		return set, NoCreation
	}
	if w.view.at(at).Table != nil {
		set.Row = at.row + 1
	}
	return set, NoError
}

// submit puts the assignments to the engine and waits.
func (w *worker) submit(sets []snap.Assignment) fault {
	if len(sets) == 0 {
		return fault{}
	}
	w.caller.Wait()
	result := w.agent.source.Submit(snap.Command{Op: snap.OpSet, By: w.actor(), Sets: sets})
	status := verdict(result.Status)
	if status == NoError {
		return fault{}
	}
	return fault{status, min(max(result.Index, 0), len(sets)-1) + 1}
}

func names(sets []snap.Assignment, set snap.Assignment) bool {
	for _, s := range sets {
		if s.Var == set.Var && s.Row == set.Row {
			return true
		}
	}
	return false
}

// actor is who asks: of SNMPv3 the name is known.
func (w *worker) actor() snap.Actor {
	by := actor(w.caller)
	if w.msg.Version == ber.V3 {
		by.User = w.r3.user.Name
	}
	return by
}
