package logintest

import (
	"net"
	"strings"
	"testing"

	"ridethrough/sim/internal/checks"
)

const radiusdConf = `
name = test
prefix = /usr
libdir = /usr/lib/freeradius
raddbdir = DIR
logdir = DIR
run_dir = DIR
pidfile = DIR/pid
max_request_time = 5
cleanup_delay = 0
max_requests = 256
hostname_lookups = no
proxy_requests = no
log {
	destination = stdout
	auth = no
}
security {
	max_attributes = 200
	reject_delay = 0
	status_server = no
}
thread pool {
	start_servers = 1
	max_servers = 2
	min_spare_servers = 1
	max_spare_servers = 1
	max_requests_per_server = 0
}
client card {
	ipaddr = 127.0.0.1
	secret = "SECRET"
	require_message_authenticator = yes
}
modules {
	pap {
	}
	files {
		filename = DIR/users
	}
}
server default {
	listen {
		type = auth
		ipaddr = OWN
		port = PORT
	}
	authorize {
		files
		pap
	}
	authenticate {
		Auth-Type PAP {
			pap
		}
	}
	post-auth {
		SIGNED
		Post-Auth-Type REJECT {
			SIGNED
		}
	}
}
`

const radiusUsers = `
anna Cleartext-Password := "anna-waits-for-the-rain"
	Filter-Id = "administrator", Service-Type = Administrative-User
bert Cleartext-Password := "bert-waits-for-the-rain"
	Filter-Id = "operator", Service-Type = NAS-Prompt-User
cora Cleartext-Password := "cora-waits-for-the-rain"
	Filter-Id = "viewer", Service-Type = Login-User
dirk Cleartext-Password := "dirk-waits-for-the-rain"
`

// RADIUS starts FreeRADIUS. It takes requests with a Message-Authenticator only, and
// puts one into its answers if signed is true.
func RADIUS(t testing.TB, signed bool) *Server {
	t.Helper()
	program := checks.Program(t, "freeradius")
	dir, at := t.TempDir(), free(t, "udp")
	own, port, _ := net.SplitHostPort(at)
	mark := ""
	if signed {
		mark = "update reply {\n\t\t\tMessage-Authenticator := 0x00\n\t\t}"
	}
	write(t, dir, "dictionary", "")
	write(t, dir, "users", radiusUsers)
	write(t, dir, "radiusd.conf", strings.NewReplacer("DIR", dir, "OWN", own, "PORT", port, "SECRET", Secret, "SIGNED", mark).Replace(radiusdConf))
	return start(t, at, "Ready to process requests", program, "-f", "-l", "stdout", "-d", dir, "-D", "/usr/share/freeradius", "-n", "radiusd")
}
