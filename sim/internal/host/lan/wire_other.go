//go:build !linux

package lan

import "errors"

func openWire(string) (wire, error) {
	return nil, errors.New("only on Linux can the card be put on an interface")
}
