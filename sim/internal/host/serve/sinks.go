package serve

import (
	"maps"
	"net/netip"
	"os"
	"path/filepath"

	"ridethrough/sim/internal/host/sink"
)

// openSinks binds the sinks of the scenario, and maps their simulated addresses to them.
// What somebody has mapped elsewhere is none of ours.
func (s *session) openSinks() (err error) {
	s.sinks, err = sink.Open(sink.Config{
		Plan: s.c.Plan, Site: s.loop.Site, Submit: s.loop.Submit, Elapsed: s.clock.Elapsed, Log: s.c.Log,
		Speed: func() float64 { return s.loop.Clock().Speed },
	}, func(at netip.AddrPort) bool { return s.c.Receivers[at] != "" })
	if err != nil {
		return &BindError{Surface: "sink", Address: free, Err: err}
	}
	list := s.sinks.Endpoints()
	if len(list) == 0 {
		return nil
	}
	mapped := maps.Clone(s.c.Receivers)
	if mapped == nil {
		mapped = map[netip.AddrPort]string{}
	}
	for _, e := range list {
		mapped[e.At] = e.Address
	}
	s.c.Receivers = mapped
	return nil
}

// readySinks is what the ready record says of them. The certificate is in a file that
// goes with the session.
func (s *session) readySinks() (list []Sink, err error) {
	for _, e := range s.sinks.Endpoints() {
		k := Sink{Name: e.Name, Kind: e.Kind, At: e.At.String(), Endpoint: e.Address}
		if e.Kind != "snmp" {
			if k.CAFile, err = s.caFile(); err != nil {
				return nil, err
			}
			k.SHA256 = s.sinks.Certificate().SHA256
		}
		list = append(list, k)
	}
	return list, nil
}

func (s *session) caFile() (string, error) {
	folder, err := s.folder("sink")
	if err != nil {
		return "", err
	}
	path := filepath.Join(folder, "sinks.pem")
	if err := os.WriteFile(path, s.sinks.Certificate().PEM, 0o600); err != nil {
		return "", &BindError{Surface: "sink", Address: path, Err: err}
	}
	return path, nil
}
