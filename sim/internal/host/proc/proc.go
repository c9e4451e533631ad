package proc

import (
	"bufio"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
	"time"
)

// Run names one run of a host's program.
type Run struct {
	Host   string
	Number int
}

// Report tells how a program ended by itself.
type Report func(run Run, code int)

// lastWords is how long the output of a program that has ended is still read:
// what it wrote is there at once, and what outlives it must not hold anybody up.
const lastWords = 100 * time.Millisecond

// longest is how much of one line of output is shown.
const longest = 4096

// Runner starts and kills programs. Its methods are safe for concurrent use.
type Runner struct {
	dir    string
	env    []string
	out    io.Writer
	report Report

	mu      sync.Mutex
	closed  bool
	running map[string]*child
	waits   sync.WaitGroup
}

type child struct {
	run    Run
	mark   string // stands in the environment of all that it starts, and of nothing else
	cmd    *exec.Cmd
	begun  uint64 // when it was started, see [startOf]
	output *os.File
	killed bool
}

// New is a runner whose programs start in dir with the environment of this
// process and env, and whose output goes to out, a line a write, behind the name
// of the host.
func New(dir string, env []string, out io.Writer, report Report) *Runner {
	return &Runner{
		dir: dir, env: env, out: out, report: report,
		running: make(map[string]*child),
	}
}

// Start runs the program of a host.
func (r *Runner) Start(run Run, argv []string) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed || r.running[run.Host] != nil {
		return nil
	}
	c := &child{run: run, mark: "RIDETHROUGH_RUN=" + rand.Text()}
	if err := c.start(r.dir, append(r.env[:len(r.env):len(r.env)], c.mark), argv); err != nil {
		return fmt.Errorf("host %s: %w", run.Host, err)
	}
	r.running[run.Host] = c
	r.waits.Go(func() { r.wait(c) })
	r.waits.Go(func() { r.show(c) })
	return nil
}

func (c *child) start(dir string, env, argv []string) error {
	c.cmd = exec.Command(argv[0], argv[1:]...)
	c.cmd.Dir = dir
	c.cmd.Env = append(clean(os.Environ()), env...)
	own(c.cmd)
	read, write, err := os.Pipe()
	if err != nil {
		return err
	}
	c.cmd.Stdout, c.cmd.Stderr = write, write
	err = c.cmd.Start()
	write.Close() // the program has its own
	if err != nil {
		read.Close()
		return err
	}
	c.output, c.begun = read, startOf(c.cmd.Process.Pid)
	return nil
}

func (r *Runner) wait(c *child) {
	err := c.cmd.Wait()
	r.mu.Lock()
	if r.running[c.run.Host] == c {
		delete(r.running, c.run.Host)
	}
	killed := c.killed
	r.mu.Unlock()
	if !killed {
		c.end() // what it left behind has lost its machine
		r.report(c.run, exitCode(err))
	}
}

// Kill ends the program of a host at once, with all that it started.
func (r *Runner) Kill(host string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if c := r.running[host]; c != nil {
		delete(r.running, host)
		c.killed = true
		c.end()
	}
}

// end kills what runs of c, in its group or gone from it.
func (c *child) end() {
	killGroup(c.cmd)
	killMarked(c.mark, c.begun)
	time.AfterFunc(lastWords, func() { c.output.SetReadDeadline(time.Unix(1, 0)) }) // long past
}

// Close kills what still runs and waits until all are gone.
func (r *Runner) Close() {
	r.mu.Lock()
	r.closed = true
	for _, c := range r.running {
		c.killed = true
		c.end()
	}
	r.mu.Unlock()
	r.waits.Wait()
}

func exitCode(err error) int {
	var exit *exec.ExitError
	switch {
	case err == nil:
		return 0
	case errors.As(err, &exit):
		return exit.ExitCode()
	}
	return -1
}

// clean keeps what only the bench may know from the programs under test.
func clean(env []string) []string {
	var kept []string
	for _, kv := range env {
		if !strings.HasPrefix(kv, "RIDETHROUGH_") {
			kept = append(kept, kv)
		}
	}
	return kept
}

// show passes the output of a program on, line by line; of a very long line the
// beginning.
func (r *Runner) show(c *child) {
	defer c.output.Close()
	lines := bufio.NewReaderSize(c.output, longest)
	for begun := false; ; {
		line, more, err := lines.ReadLine()
		if err != nil {
			return
		}
		if !begun {
			fmt.Fprintf(r.out, "%s: %s\n", c.run.Host, line)
		}
		begun = more
	}
}
