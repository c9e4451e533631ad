//go:build !linux

package serve

import (
	"os"
	"os/exec"
)

func group(cmd *exec.Cmd) {
	cmd.Cancel = func() error { return cmd.Process.Signal(os.Interrupt) }
}

func killGroup(*exec.Cmd) {}
