package cli

// Exit codes.
const (
	exitMet         = 0
	exitMissed      = 1
	exitUsage       = 2
	exitIO          = 3
	exitFault       = 4
	exitInterrupted = 130
	exitHungUp      = 141 // 128 and the number of SIGPIPE, as of a program that it ends
)

// exits says in a sentence what each exit code means; docs/exit-codes.md and
// the help repeat it.
var exits = []struct {
	code     int
	sentence string
}{
	{exitMet, "All is well: every expectation was met, every file is valid, the replay is the same."},
	{exitMissed, "An expectation was missed or not reached, or a variant did not miss what it names. budget: it does not hold. stage: the peak is above the limit. study: too few runs met everything. replay --as source: model and record are further apart than a limit. wait --for, send --until: the condition did not hold in time."},
	{exitUsage, "The command line or a file is wrong: nothing was run."},
	{exitIO, "Something could not be bound, read, written or started, or was not ready in time."},
	{exitFault, "A fault of the program itself, or a replay that came to something else than its journal."},
	{exitInterrupted, "Interrupted by a signal before the end; reports were written as far as it came."},
	{exitHungUp, "Whoever read standard output has closed it, as `| head` does: what was still to be said there is not."},
}
