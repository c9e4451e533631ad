package memory

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"ridethrough/sim/internal/core/snap"
)

// BenchmarkKeep is one change after the other, each awaited.
func BenchmarkKeep(b *testing.B) {
	c := benchCard(b)
	for b.Loop() {
		done := make(chan struct{})
		c.Keep(benchKeep, func() { close(done) })
		<-done
	}
}

// BenchmarkKeepTogether is many clients at once, whose changes share a commit.
func BenchmarkKeepTogether(b *testing.B) {
	c := benchCard(b)
	b.SetParallelism(16)
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			done := make(chan struct{})
			c.Keep(benchKeep, func() { close(done) })
			<-done
		}
	})
}

var benchKeep = &snap.Keep{Sections: map[string]json.RawMessage{"settings": json.RawMessage(fmt.Sprintf("%q", strings.Repeat("x", 400)))}}

func benchCard(b *testing.B) *Card {
	s, err := Open(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.Close() })
	s.Begin(func(err error) { b.Error(err) })
	return s.Card("A")
}
