package expect

import (
	"net/netip"

	"ridethrough/sim/internal/core/snap"
)

// term is one compiled part of a condition. Which functions are set follows
// from kind: yes for YesNo, num for Number and Count, code and words for a Word
// variable, addr for Address. A Word without a code is a text literal.
type term struct {
	at    int // in the text, for messages
	kind  Kind
	name  string // of the variable, if it is one
	words []string

	yes  func(*snap.Site) bool
	num  func(*snap.Site) float64
	code func(*snap.Site) uint8
	addr func(*snap.Site) netip.Addr

	literal  bool
	litNum   float64
	litText  string
	fraction bool // a literal or a result that need not be whole
}

func (t *term) numeric() bool { return t.kind == Number || t.kind == Count }

// textLiteral says whether t is a quoted text.
func (t *term) textLiteral() bool { return t.kind == Word && t.code == nil }

// what is t for a message.
func (t *term) what() string {
	switch {
	case t.textLiteral():
		return "text"
	case t.kind == YesNo:
		return "yes/no value"
	case t.numeric():
		return "number"
	default:
		return t.kind.String()
	}
}

func (v *Variable) term(at int) *term {
	return &term{
		at: at, kind: v.Kind, name: v.Name, words: v.Words,
		yes: v.yes, num: v.num, code: v.code, addr: v.addr, fraction: v.Kind == Number,
	}
}

func numberTerm(at int, v float64, whole bool) *term {
	kind := Number
	if whole {
		kind = Count
	}
	return &term{
		at: at, kind: kind, literal: true, litNum: v, fraction: !whole,
		num: func(*snap.Site) float64 { return v },
	}
}

func textTerm(at int, text string) *term {
	return &term{at: at, kind: Word, literal: true, litText: text}
}

func yesTerm(at int, f func(*snap.Site) bool) *term {
	return &term{at: at, kind: YesNo, yes: f}
}

func computed(at int, whole bool, f func(*snap.Site) float64) *term {
	t := &term{at: at, kind: Number, num: f, fraction: !whole}
	if whole {
		t.kind = Count
	}
	return t
}

// text reads a Word at run time; it is a constant for a literal.
func (t *term) text() func(*snap.Site) string {
	if t.code == nil {
		lit := t.litText
		return func(*snap.Site) string { return lit }
	}
	code, words := t.code, t.words
	return func(s *snap.Site) string { return wordAt(words, code(s)) }
}
