package serve

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"time"
)

// patience is how long PROGRAM may take to end after it was asked to.
const patience = 5 * time.Second

// findProgram says what is wrong with PROGRAM before anything is announced.
func (c *Config) findProgram() error {
	if len(c.Program) == 0 {
		return nil
	}
	if _, err := exec.LookPath(c.Program[0]); err != nil {
		return &ProgramError{Program: c.Program[0], Err: errors.Unwrap(err)}
	}
	return nil
}

// startProgram starts the software under test at the head of a process group of
// its own. The session ends with it, and the group with the session.
func (s *session) startProgram(ctx context.Context, env []string) error {
	argv := s.c.Program
	if len(argv) == 0 {
		return nil
	}
	cmd := exec.CommandContext(ctx, argv[0], argv[1:]...)
	cmd.Env = append(os.Environ(), env...)
	cmd.Stdout, cmd.Stderr = s.c.Programs, s.c.Programs
	cmd.WaitDelay = patience
	group(cmd)
	if err := cmd.Start(); err != nil {
		return &ProgramError{Program: argv[0], Err: err}
	}
	s.program.Go(func() {
		err := cmd.Wait()
		killGroup(cmd) // what it left behind
		if ctx.Err() == nil {
			s.c.Log(fmt.Sprintf("%s ended: %s", argv[0], ended(err)))
			s.stop()
		}
	})
	return nil
}

func ended(err error) string {
	if err == nil {
		return "exit status 0"
	}
	return err.Error()
}

// ProgramError is a PROGRAM that could not be started.
type ProgramError struct {
	Program string
	Err     error
}

// Error is one line.
func (e *ProgramError) Error() string {
	return fmt.Sprintf("cannot start %s: %v", e.Program, e.Err)
}

// Unwrap is the cause.
func (e *ProgramError) Unwrap() error { return e.Err }
