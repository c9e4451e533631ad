package cli

import (
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestAddresses(t *testing.T) {
	for text, lowest := range map[string]int{
		"127.0.0.1:0": 0, "127.0.0.1:1": 1, "localhost:65535": 1, "[::1]:161": 1,
	} {
		if !isAddress(text, lowest) {
			t.Errorf("%q with a port from %d is refused", text, lowest)
		}
	}
	for _, text := range []string{"", "here", "127.0.0.1", "127.0.0.1:", "127.0.0.1:0", "127.0.0.1:65536", "127.0.0.1:-1", "127.0.0.1:snmp", "::1:161"} {
		if isAddress(text, realPort) {
			t.Errorf("%q is taken", text)
		}
	}
}

func TestReceivers(t *testing.T) {
	m, err := receivers([]string{"198.51.100.20:162=127.0.0.1:9162", "[2001:db8::1]:162=[::1]:9163"})
	if err != nil || len(m) != 2 {
		t.Fatal(m, err)
	}
	for _, wrong := range []string{
		"", "x", "198.51.100.20=127.0.0.1:1", "198.51.100.20:162", "198.51.100.20:162=x", "host:162=127.0.0.1:1",
		"198.51.100.20:162=127.0.0.1:0", "198.51.100.20:162=127.0.0.1:70000",
	} {
		if _, err := receivers([]string{wrong}); exitOf(err) != exitUsage {
			t.Errorf("%q: %v", wrong, err)
		}
	}
	twice := "198.51.100.20:162=127.0.0.1:1"
	if _, err := receivers([]string{twice, twice}); exitOf(err) != exitUsage {
		t.Errorf("twice: %v", err)
	}
}

func TestMapOfNobody(t *testing.T) {
	known := []netip.AddrPort{netip.MustParseAddrPort("198.51.100.20:162"), netip.MustParseAddrPort("198.51.100.20:162")}
	mapOf := func(addr string) map[netip.AddrPort]string {
		return map[netip.AddrPort]string{netip.MustParseAddrPort(addr): "127.0.0.1:1"}
	}
	if err := mapped(mapOf("198.51.100.20:162"), known); err != nil {
		t.Error(err)
	}
	err := mapped(mapOf("198.51.100.20:163"), known)
	if exitOf(err) != exitUsage || !strings.HasSuffix(err.Error(), "no such receiver; expected 198.51.100.20:162") {
		t.Error(err)
	}
	if err := mapped(mapOf("198.51.100.20:162"), nil); exitOf(err) != exitUsage {
		t.Error(err)
	}
}

// The same file is the same whatever it is called.
func TestDistinct(t *testing.T) {
	t.Chdir(t.TempDir())
	here, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for _, make := range []error{
		os.WriteFile("file", nil, 0o600), os.Symlink("file", "link"), os.Mkdir("folder", 0o700), os.Symlink("folder", "way"),
	} {
		if make != nil {
			t.Skip(make)
		}
	}
	for a, b := range map[string]string{
		"file": "./file", "link": "file", "new": filepath.Join(here, "new"), "folder/new": "way/new", "folder/../x": "x",
	} {
		if err := distinct(namedFile{"trace", a}, namedFile{"junit", b}); exitOf(err) != exitUsage {
			t.Errorf("%s and %s: %v", a, b, err)
		}
	}
	if err := distinct(namedFile{"trace", "file"}, namedFile{"junit", "folder/file"}, namedFile{"a", ""}, namedFile{"b", ""}); err != nil {
		t.Error(err)
	}
}
