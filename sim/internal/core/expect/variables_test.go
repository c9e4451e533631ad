package expect

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestVariablesReadTheirField checks every variable against a site in which no
// two fields have the same value.
func TestVariablesReadTheirField(t *testing.T) {
	want := strings.TrimSpace(`
t_s = 100.000
source.volts = 161.500
source.hz = 49.750
source.good = false
source.switch = "generator"
source.generator = "running"
source.generator_pct = 87.500
source.events = 31
source.not_borne = 32
room.temp_c = 33.500
room.humidity_pct = 34.250
room.heat_w = 2035.500
room.cooling_w = 1036.500
ups.source = "battery"
ups.on_battery = true
ups.on_battery_s = 40.000
ups.output_on = true
ups.load_w = 811.250
ups.load_pct = 30.500
ups.runtime_min = 4.500
ups.transfers = 21
ups.line_bads = 22
ups.shutdown_in_s = 30.000
ups.startup_in_s = -1.000
ups.reboot_in_s = 5.000
ups.test = "quick-battery"
ups.test_result = "warning"
ups.on_bypass = false
ups.bypass_good = true
ups.synchronised = false
ups.high_efficiency = true
ups.holds_off = true
ups.lines_bad = 2
ups.output_v = 229.500
ups.output_hz = 49.500
ups.overload_pct = 12.500
ups.temp_c = 41.250
ups.longest_gap_ms = 18.000
ups.dynamic_class = 4
bypass.volts = 228.500
bypass.hz = 50.250
battery.charge_pct = 71.125
battery.shown_pct = 70.250
battery.true_runtime_min = 2.750
battery.health_pct = 83.500
battery.shown_health_pct = 91.750
battery.volts = 72.500
battery.amps = 11.250
battery.temp_c = 26.500
battery.status = "low"
outlets.locked = true
ups.awaits_charge = true
ups.peak_pct = 88.500
card.state = "running"
card.stage = ""
card.ups_link = true
card.data_age_s = 0.000
card.boots = 23
card.address = "192.0.2.10"
card.address_state = "leased"
card.lamp_work = "beat"
card.lamp_ups = "steady"
card.lamp_network = "steady"
card.lamp_alert = "fast"
sign_ins.accepted = 3
sign_ins.refused = 4
sign_ins.fallback = 1
sign_ins.lockouts = 2
sign_ins.unattended = 7
sign_ins.last = "no-answer"
sign_ins.last_took_s = 6.000
card.sessions = 1
card.usm.unknown_users = 501
card.usm.unsupported_levels = 502
card.usm.wrong_digests = 503
card.usm.decryption_errors = 504
card.usm.garbled = 505
card.usm.not_authorised = 506
card.link = true
card.link_lost = 33
card.link_mbit = 10
card.link_half = true
card.link_mismatch = true
card.link_other_vlan = true
card.link_in_errors = 34
card.link_late_collisions = 35
card.gateway = "192.0.2.1"
card.lease_left_s = 100.000
card.lease_overdue = 58
card.address6 = "2001:db8::9"
card.address6_state = "auto"
card.clock_off_s = 42.250
card.clock_set = true
card.local_hour = 8.039
schedule.warnings = 41
schedule.offs = 42
schedule.ons = 43
schedule.tests = 46
schedule.waits = true
card.time_servers_believed = 2
card.slot = "b"
card.spare = "failed"
card.trying = true
card.uploading = true
card.images_taken = 24
card.images_refused = 25
card.returns = 26
card.host_keys_made = 31
card.engine_id_new = true
card.label_opens = true
journal.events_lost = 27
journal.system_lost = 28
card.battery_packs = 1
data_log.entries = 29
data_log.least_input_v = 192.300
energy.kwh = 0.013
energy.hour_w = 504.000
hosts_running = 0
hosts_stopped = 0
hosts_cut = 14
policy.called = true
policy.shutdowns = 2
policy.refused = 10
policy.stage = "stopping"
monitor.on_battery = true
monitor.contact_lost = false
monitor.out_of_step = true
monitor.neighbour_lost = false
monitor.ticket_open = true
monitor.alerts = 81
monitor.contact_alerts = 82
monitor.low_alerts = 83
monitor.answered = 84
monitor.unanswered = 85
monitor.tickets = 86
monitor.events = 87
monitor.restarts = 91
monitor.line_failures = 92
monitor.others_late_s = 88.500
relay_1.closed = true
relay_1.alarm = false
relay_1.turns = 91
relay_2.closed = false
relay_2.alarm = true
relay_2.turns = 92
relay_3.closed = true
relay_3.alarm = false
relay_3.turns = 93
relay_4.closed = false
relay_4.alarm = true
relay_4.turns = 94
alerts.risen = 61
alerts.expiry_warnings = 62
mails.made = 41
mails.sent = 42
mails.delivered = 43
mails.waiting = 44
mails.clears = 45
mails.late = 46
mails.rejected = 47
mails.expired = 48
mails.dropped = 49
mails.lost = 50
syslog.made = 51
syslog.sent = 52
syslog.delivered = 53
syslog.waiting = 54
syslog.clears = 55
syslog.late = 56
syslog.rejected = 57
syslog.expired = 58
syslog.dropped = 59
syslog.lost = 60
alarms.count = 2
alarms.battery_bad = false
alarms.on_battery = true
alarms.low_battery = true
alarms.depleted_battery = false
alarms.temp_bad = false
alarms.input_bad = false
alarms.output_bad = false
alarms.output_overload = false
alarms.on_bypass = false
alarms.bypass_bad = false
alarms.output_off_as_requested = false
alarms.ups_off_as_requested = false
alarms.charger_failed = false
alarms.ups_output_off = false
alarms.ups_system_off = false
alarms.fan_failure = false
alarms.fuse_failure = false
alarms.general_fault = false
alarms.diagnostic_test_failed = false
alarms.communications_lost = false
alarms.awaiting_power = false
alarms.shutdown_pending = false
alarms.shutdown_imminent = false
alarms.test_in_progress = false
hosts.NAME.state = "cut"
hosts.NAME.ended = "cut"
hosts.NAME.powered = false
hosts.NAME.starts = 5
hosts.NAME.stops = 6
hosts.NAME.cuts = 7
hosts.NAME.draw_w = 0.500
hosts.NAME.channel = "rejects-credentials"
hosts.NAME.refused = 5
groups.NAME.on = false
groups.NAME.load_w = 0.500
groups.NAME.off_s = 11.000
groups.NAME.cause = "shed"
groups.NAME.map_right = true
groups.NAME.believed_hosts = 1
probes.NAME.state = "warn"
probes.NAME.temp_c = 37.500
probes.NAME.humidity_pct = 38.000
probes.NAME.rise_k = 3.500
probes.NAME.socket = 24
probes.NAME.alerts = 26
probes.NAME.clears = 27
contacts.NAME.state = "active"
recipients.NAME.made = 61
recipients.NAME.sent = 62
recipients.NAME.delivered = 63
recipients.NAME.waiting = 64
recipients.NAME.clears = 65
recipients.NAME.late = 66
recipients.NAME.rejected = 67
recipients.NAME.expired = 68
recipients.NAME.dropped = 69
recipients.NAME.lost = 70
collectors.NAME.made = 71
collectors.NAME.sent = 72
collectors.NAME.delivered = 73
collectors.NAME.waiting = 74
collectors.NAME.clears = 75
collectors.NAME.late = 76
collectors.NAME.rejected = 77
collectors.NAME.expired = 78
collectors.NAME.dropped = 79
collectors.NAME.lost = 80
sinks.NAME.count = 95
sinks.NAME.last_s = 96.000
sinks.NAME.refused = 97
sinks.NAME.lost = 98
sinks.NAME.repeats = 99
sinks.NAME.matched.MATCH = 94
peers.NAME.reached = false
peers.NAME.fault = "no-gateway"
peers.NAME.heard = 57
switches.NAME.state = "starting"
sent.on_battery = 11
sent.test_completed = 12
sent.alarm_added = 13
sent.alarm_removed = 14
sent.cold_start = 15
sent.warm_start = 16
sent.auth_failure = 17
sent.link_down = 0
sent.link_up = 0
sent.group_switched = 0
sent.probe_alert = 0
sent.probe_better = 0
sent.contact_changed = 0
sent.test_message = 0
sent.warning_lasts = 0
acknowledged.on_battery = 21
unacknowledged.on_battery = 31
acknowledged.test_completed = 22
unacknowledged.test_completed = 32
acknowledged.alarm_added = 23
unacknowledged.alarm_added = 33
acknowledged.alarm_removed = 24
unacknowledged.alarm_removed = 34
acknowledged.cold_start = 25
unacknowledged.cold_start = 35
acknowledged.warm_start = 26
unacknowledged.warm_start = 36
acknowledged.auth_failure = 27
unacknowledged.auth_failure = 37
acknowledged.link_down = 0
unacknowledged.link_down = 0
acknowledged.link_up = 0
unacknowledged.link_up = 0
acknowledged.group_switched = 0
unacknowledged.group_switched = 0
acknowledged.probe_alert = 0
unacknowledged.probe_alert = 0
acknowledged.probe_better = 0
unacknowledged.probe_better = 0
acknowledged.contact_changed = 0
unacknowledged.contact_changed = 0
acknowledged.test_message = 0
unacknowledged.test_message = 0
acknowledged.warning_lasts = 0
unacknowledged.warning_lasts = 0`)
	site := testSite()
	site.Hosts[0], site.Groups[0] = site.Hosts[1], site.Groups[1] // NAME is the first of each
	site.Probes.List[0].Name = "NAME"
	site.Outlets.Roster.Contacts[0].Name = "NAME"
	var got []string
	for _, v := range Variables() {
		got = append(got, v.Name+" = "+v.show(site))
	}
	if diff := cmp.Diff(want, strings.Join(got, "\n")); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// TestWordsAreKnown guards against a word list that was cut short when a
// snapshot type got another value.
func TestWordsAreKnown(t *testing.T) {
	for _, v := range Variables() {
		for _, w := range v.Words {
			if w == "unknown" && v.Name != "battery.status" {
				t.Errorf("%s: %q has a hole", v.Name, v.Words)
			}
		}
		if v.Kind == Word && len(v.Words) < 2 {
			t.Errorf("%s: words %q", v.Name, v.Words)
		}
		if v.Doc == "" {
			t.Errorf("%s has no description", v.Name)
		}
	}
}

func TestNearest(t *testing.T) {
	words := []string{"battery", "booster", "db", "lost", "normal"}
	for name, want := range map[string]string{
		"batery": "battery", "Battery": "battery", "bd": "db", "lsot": "lost", "boost": "booster", "xyz": "", "": "", "nearly": "",
	} {
		if got := Nearest(name, words); got != want {
			t.Errorf("%q: got %q, want %q", name, got, want)
		}
	}
}
