package proc

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync"
)

// Report tells how a program ended by itself.
type Report func(host string, code int)

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
	cmd    *exec.Cmd
	killed bool
}

// New is a runner whose programs start in dir with the environment of this
// process and env, and whose output goes to out line by line behind the name of
// the host.
func New(dir string, env []string, out io.Writer, report Report) *Runner {
	return &Runner{
		dir: dir, env: env, out: &lockedWriter{w: out}, report: report,
		running: make(map[string]*child),
	}
}

// Start runs the program of a host.
func (r *Runner) Start(host string, argv []string) error {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.closed || r.running[host] != nil {
		return nil
	}
	cmd := exec.Command(argv[0], argv[1:]...)
	cmd.Dir = r.dir
	cmd.Env = append(clean(os.Environ()), r.env...)
	own(cmd)
	read, write, err := os.Pipe()
	if err != nil {
		return fmt.Errorf("host %s: %w", host, err)
	}
	cmd.Stdout, cmd.Stderr = write, write
	err = cmd.Start()
	write.Close() // the program has its own
	if err != nil {
		read.Close()
		return fmt.Errorf("host %s: %w", host, err)
	}
	c := &child{cmd: cmd}
	r.running[host] = c
	r.waits.Go(func() { r.wait(host, c) })
	r.waits.Go(func() { r.show(host, read) })
	return nil
}

func (r *Runner) wait(host string, c *child) {
	err := c.cmd.Wait()
	r.mu.Lock()
	if r.running[host] == c {
		delete(r.running, host)
	}
	killed := c.killed
	r.mu.Unlock()
	if !killed {
		killGroup(c.cmd) // what it left behind has lost its machine
		r.report(host, exitCode(err))
	}
}

// Kill ends the program of a host at once.
func (r *Runner) Kill(host string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.kill(r.running[host])
	delete(r.running, host)
}

func (r *Runner) kill(c *child) {
	if c != nil && !c.killed {
		c.killed = true
		killGroup(c.cmd)
	}
}

// Close kills what still runs and waits until all are gone.
func (r *Runner) Close() {
	r.mu.Lock()
	r.closed = true
	for _, c := range r.running {
		r.kill(c)
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

// show passes the output of a program on, line by line.
func (r *Runner) show(host string, from io.ReadCloser) {
	defer from.Close()
	lines := bufio.NewScanner(from)
	for lines.Scan() {
		fmt.Fprintf(r.out, "%s: %s\n", host, lines.Text())
	}
	io.Copy(io.Discard, from) // a line too long to show must not block the program
}

type lockedWriter struct {
	mu sync.Mutex
	w  io.Writer
}

func (l *lockedWriter) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.w.Write(p)
}
