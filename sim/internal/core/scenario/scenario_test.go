package scenario

import (
	"testing"
)

func TestDefaultIsRight(t *testing.T) {
	name, src := Default()
	if err := Check(name, src); err != nil {
		t.Fatal(err)
	}
}
