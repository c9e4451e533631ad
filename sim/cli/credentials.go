package cli

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"

	"ridethrough/sim"
)

// credentials are those of a file, or else of the environment: never of the command
// line, which every user of a machine can see.
func (a *app) credentials(path string) (sim.Credentials, error) {
	if path != "" {
		return credentialFile(path)
	}
	c := sim.Credentials{}
	for _, name := range sim.CredentialNames() {
		if value := a.env(credentialVariable(name)); value != "" {
			c[name] = value
		}
	}
	return c, nil
}

func credentialVariable(name string) string { return "RIDETHROUGH_SNMP_" + strings.ToUpper(name) }

// credentialFile reads lines such as community = word. What a line says is never
// repeated in an error.
func credentialFile(path string) (sim.Credentials, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, &sim.IOError{Op: "read", Path: path, Err: withoutPath(err)}
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, &sim.IOError{Op: "read", Path: path, Err: withoutPath(err)}
	}
	if info.Mode().Perm()&0o077 != 0 {
		return nil, usagef("%s: others may read or write it; expected mode 0600, as by chmod 600", path)
	}
	c := sim.Credentials{}
	lines := bufio.NewScanner(f)
	for n := 1; lines.Scan(); n++ {
		line := strings.TrimSpace(lines.Text())
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		name, value, ok := strings.Cut(line, "=")
		name = strings.TrimSpace(name)
		switch {
		case !ok || !slices.Contains(sim.CredentialNames(), name):
			return nil, usagef("%s:%d: expected NAME = VALUE, with one of %s", path, n, strings.Join(sim.CredentialNames(), ", "))
		case c[name] != "":
			return nil, usagef("%s:%d: %s stands there twice", path, n, name)
		}
		c[name] = strings.TrimSpace(value)
	}
	if err := lines.Err(); errors.Is(err, bufio.ErrTooLong) {
		return nil, usagef("%s: a line is longer than %d octets: expected NAME = VALUE", path, bufio.MaxScanTokenSize)
	} else if err != nil {
		return nil, fmt.Errorf("%w", &sim.IOError{Op: "read", Path: path, Err: err})
	}
	return c, nil
}
