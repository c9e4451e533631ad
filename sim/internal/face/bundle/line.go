package bundle

// line is one line of the file: exactly one of its parts is there.
type line struct {
	Version  int          `json:"ridethrough_bundle,omitempty"`
	Start    string       `json:"start,omitempty"`
	Interval int64        `json:"interval_ms,omitempty"`
	SNMP     string       `json:"snmp,omitempty"`
	Scrubbed *bool        `json:"scrubbed,omitempty"`
	Program  string       `json:"program,omitempty"`
	At       *int64       `json:"at_ms,omitempty"`
	Reading  *readingLine `json:"reading,omitempty"`
	Notice   *noticeLine  `json:"notification,omitempty"`
	Gap      *string      `json:"gap,omitempty"`
	End      *endLine     `json:"end,omitempty"`
	SHA256   string       `json:"sha256,omitempty"`
}

// readingLine has what is other than in the reading before.
type readingLine struct {
	Took int64       `json:"took_ms"`
	Set  [][2]string `json:"set,omitempty"`
	Gone []string    `json:"gone,omitempty"`
}

type noticeLine struct {
	SNMP   string      `json:"snmp"`
	Inform bool        `json:"inform,omitempty"`
	Peer   string      `json:"peer,omitempty"`
	Trap   string      `json:"trap"`
	Uptime int64       `json:"uptime_cs"`
	Values [][2]string `json:"values,omitempty"`
}

type endLine struct {
	Readings int    `json:"readings"`
	Notices  int    `json:"notifications"`
	Gaps     int    `json:"gaps"`
	Clock    *clock `json:"clock,omitempty"`
}

type clock struct {
	Starts   int      `json:"restarts"`
	AheadMS  *int64   `json:"ahead_ms,omitempty"`
	DriftPPM *float64 `json:"drift_ppm,omitempty"`
	WithinMS int64    `json:"within_ms"`
}
