package main

import (
	"encoding/json"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// rival is a server that is measured, in a process of its own.
type rival struct {
	name    string
	address string
	process int
}

// startCard serves the card that is measured, as users do.
func startCard(b *testing.B) *rival {
	b.Helper()
	scenario, err := filepath.Abs(filepath.Join("..", "..", "testdata", "bench", "snmp-ratio", "card.toml"))
	if err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(b.TempDir(), "ready.json")
	process := launch(b, exec.Command("ridethrough", "serve", "--quiet", "--keep", "--ready-file", file, scenario))
	var ready struct{ Endpoints struct{ SNMP string } }
	eventually(b, "ridethrough", func() error {
		text, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		return json.Unmarshal(text, &ready)
	})
	return &rival{name: "ridethrough", address: ready.Endpoints.SNMP, process: process}
}

// startSnmpd serves comparable objects with net-snmp's agent.
func startSnmpd(b *testing.B, path string) *rival {
	b.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "bench", "snmp-ratio", "snmpd.conf"))
	if err != nil {
		b.Fatal(err)
	}
	// It writes its users' keys beside its settings and needs both in its own folder.
	dir := b.TempDir()
	conf := filepath.Join(dir, "snmpd.conf")
	if err := os.WriteFile(conf, text, 0o600); err != nil {
		b.Fatal(err)
	}
	r := &rival{name: "snmpd", address: freePort(b)}
	cmd := exec.Command(path, "-f", "-C", "-c", conf, "-LOw", "-r", "-I", "-smux,mteTrigger,mteTriggerConf", "udp:"+r.address)
	cmd.Env = append(os.Environ(), "SNMP_PERSISTENT_DIR="+dir, "SNMPCONFPATH="+dir)
	r.process = launch(b, cmd)
	r.answers(b)
	return r
}

// startEcho serves the floor: what the machine's network costs by itself.
func startEcho(b *testing.B) *rival {
	b.Helper()
	r := &rival{name: "echo", address: freePort(b)}
	r.process = launch(b, exec.Command("echo-udp", r.address))
	conn, err := net.Dial("udp4", r.address)
	if err != nil {
		b.Fatal(err)
	}
	defer conn.Close()
	eventually(b, "echo", func() error {
		conn.SetDeadline(time.Now().Add(100 * time.Millisecond))
		conn.Write([]byte("?"))
		_, err := conn.Read(make([]byte, 1))
		return err
	})
	return r
}

// echo is the process of startEcho: one goroutine, one socket, the address to
// listen on as its argument.
func echo() {
	at, err := net.ResolveUDPAddr("udp4", os.Args[1])
	if err == nil {
		var conn *net.UDPConn
		if conn, err = net.ListenUDP("udp4", at); err == nil {
			in := make([]byte, 65536)
			for {
				n, peer, err := conn.ReadFromUDPAddrPort(in)
				if err == nil {
					conn.WriteToUDPAddrPort(in[:n], peer)
				}
			}
		}
	}
	fmt.Fprintln(os.Stderr, err)
	os.Exit(1)
}

// launch starts a process that ends with the benchmark.
func launch(b *testing.B, cmd *exec.Cmd) int {
	b.Helper()
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		cmd.Process.Signal(os.Interrupt)
		timer := time.AfterFunc(10*time.Second, func() { cmd.Process.Kill() })
		defer timer.Stop()
		cmd.Wait()
	})
	return cmd.Process.Pid
}

// answers waits until the server answers.
func (r *rival) answers(b *testing.B) {
	b.Helper()
	conn, err := net.Dial("udp4", r.address)
	if err != nil {
		b.Fatal(err)
	}
	defer conn.Close()
	// A v2c get of sysDescr.0 under the community of snmpd.conf.
	get := []byte("\x30\x2a\x02\x01\x01\x04\x07measure\xa0\x1c\x02\x04\x00\x00\x00\x01\x02\x01\x00\x02\x01\x00\x30\x0e\x30\x0c\x06\x08\x2b\x06\x01\x02\x01\x01\x01\x00\x05\x00")
	eventually(b, r.name, func() error {
		conn.SetDeadline(time.Now().Add(100 * time.Millisecond))
		conn.Write(get)
		_, err := conn.Read(make([]byte, 2000))
		return err
	})
}

// eventually tries until try succeeds.
func eventually(b *testing.B, name string, try func() error) {
	b.Helper()
	var err error
	for deadline := time.Now().Add(time.Minute); time.Now().Before(deadline); time.Sleep(20 * time.Millisecond) {
		if err = try(); err == nil {
			return
		}
	}
	b.Fatalf("%s does not come up: %v", name, err)
}

// freePort is an address of loopback that nothing listens on.
func freePort(b *testing.B) string {
	b.Helper()
	conn, err := net.ListenPacket("udp4", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	defer conn.Close()
	return conn.LocalAddr().String()
}
