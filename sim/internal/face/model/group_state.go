package model

var alarmGroup = []Variable{
	{
		Name: "upsAlarmsPresent", Label: "Alarms present", OID: ups(6, 1), Syntax: gauge32,
		Levels: Subset | Basic | Full, Description: "How many conditions are present, which is the number of rows of the alarm table.",
		count: func(v *View, _ int) int64 { return int64(v.Dev.Alarms.Count) },
	},
	{
		Name: "upsAlarmId", Label: "Alarm number", OID: alarmTable.column(1), Table: alarmTable,
		Syntax: positive, Access: NotAccessible,
		Description: "Number of a condition for as long as it is present; numbers rise and are not codes.",
		count:       func(v *View, row int) int64 { return int64(v.Dev.Alarms.Rows[row].ID) },
	},
	{
		Name: "upsAlarmDescr", Label: "Alarm", OID: alarmTable.column(2), Table: alarmTable, Syntax: autonomous,
		Levels: Subset | Basic | Full, Description: "Which condition it is: the identity of a well-known alarm.",
		read: func(v *View, row int) Value { return Value{OID: Alarm(v.Dev.Alarms.Rows[row].Kind).OID} },
	},
	{
		Name: "upsAlarmTime", Label: "Alarm since", OID: alarmTable.column(3), Table: alarmTable, Syntax: timeStamp,
		Levels: Subset | Basic | Full, Description: "Up time when the condition was seen; 0 if it was there before the agent started.",
		count: func(v *View, row int) int64 { return v.alarmTime(row) },
	},
}

var testGroup = []Variable{
	{
		Name: "upsTestId", Label: "Test", OID: ups(7, 1), Syntax: objectID, Access: ReadWrite,
		Levels: Basic | Full, Description: "The test that is running, else the last one. Writing starts or aborts a test, together with upsTestSpinLock.",
		read: func(v *View, _ int) Value { return Value{OID: Test(max(v.Dev.Test.ID, 1)).OID} },
	},
	{
		Name: "upsTestSpinLock", Label: "Test lock", OID: ups(7, 2), Syntax: testAndIncr, Access: ReadWrite,
		Levels: Basic | Full, Description: "Lock of the test group: a write must give the present number, which then rises by one.",
		count: func(v *View, _ int) int64 { return int64(v.Dev.Test.SpinLock) },
	},
	{
		Name: "upsTestResultsSummary", Label: "Test result", OID: ups(7, 3),
		Syntax: enum("donePass", "passed", "doneWarning", "passed with a warning", "doneError", "failed",
			"aborted", "aborted", "inProgress", "in progress", "noTestsInitiated", "no test yet"),
		Levels: Basic | Full, Description: "How the last test ended, or that it is still running.",
		count: func(v *View, _ int) int64 { return int64(v.Dev.Test.Result) },
	},
	{
		Name: "upsTestResultsDetail", Label: "Test detail", OID: ups(7, 4), Syntax: display(255),
		Levels: Basic | Full, Description: "More about the result, in words; may be empty.",
		read: func(v *View, _ int) Value { return text(v.Dev.Test.Detail) },
	},
	{
		Name: "upsTestStartTime", Label: "Test began", OID: ups(7, 5), Syntax: timeStamp,
		Levels: Basic | Full, Description: "Up time when the last test began; 0 if that was before the agent started, or never.",
		count: func(v *View, _ int) int64 { return v.testStart() },
	},
	{
		Name: "upsTestElapsedTime", Label: "Test time", OID: ups(7, 6), Syntax: interval,
		Levels: Basic | Full, Description: "How long the last test took, or the running one has taken so far.",
		count: func(v *View, _ int) int64 { return v.testElapsed() },
		say:   sayHundredths,
	},
}

// maxDelay is the greatest countdown. RFC 1628 prints one more than an INTEGER
// can carry (erratum 3276).
const maxDelay = maxInt32

var controlGroup = []Variable{
	{
		Name: "upsShutdownType", Label: "Shutdown switches off", OID: ups(8, 1),
		Syntax: enum("output", "the output", "system", "the whole UPS"), Access: ReadWrite,
		Levels: Subset | Basic | Full, Description: "What a countdown switches off, as it stands when the countdown ends.",
		count: func(v *View, _ int) int64 { return int64(v.Dev.Control.ShutdownType) },
	},
	{
		Name: "upsShutdownAfterDelay", Label: "Shutdown in", OID: ups(8, 2), Syntax: integer(-1, maxDelay), Access: ReadWrite,
		Units: "seconds", Symbol: "s", Levels: Subset | Basic | Full,
		Description: "Seconds until shutdown, or -1 if no countdown runs. Writing starts or replaces it; 0 means at once, -1 aborts.",
		count:       func(v *View, _ int) int64 { return v.countdown(v.Dev.Control.ShutdownAt) },
		say:         sayCountdown,
	},
	{
		Name: "upsStartupAfterDelay", Label: "Startup in", OID: ups(8, 3), Syntax: integer(-1, maxDelay), Access: ReadWrite,
		Units: "seconds", Symbol: "s", Levels: Basic | Full,
		Description: "Seconds until startup, or -1 if no countdown runs. Writing starts or replaces it; startup then waits for the mains.",
		count:       func(v *View, _ int) int64 { return v.countdown(v.Dev.Control.StartupAt) },
		say:         sayCountdown,
	},
	{
		Name: "upsRebootWithDuration", Label: "On again in", OID: ups(8, 4), Syntax: integer(-1, 300), Access: ReadWrite,
		Units: "seconds", Symbol: "s", Levels: Basic | Full,
		Description: "Writing shuts down at once for so many seconds; -1 aborts. Reads the seconds left, or -1 if none runs.",
		count:       func(v *View, _ int) int64 { return v.countdown(v.Dev.Control.RebootUntil) },
		say:         sayCountdown,
	},
	{
		Name: "upsAutoRestart", Label: "Restart with the mains", OID: ups(8, 5),
		Syntax: enum("on", "on", "off", "off"), Access: ReadWrite, Levels: Subset | Basic | Full,
		Description: "Whether the unit starts by itself when the mains return after a shutdown during a power failure.",
		read:        func(v *View, _ int) Value { return truth(v.Dev.Control.AutoRestart) },
	},
}
