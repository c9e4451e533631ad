//go:build !linux

package proc

import "os/exec"

func own(*exec.Cmd) {}

func killGroup(cmd *exec.Cmd) { cmd.Process.Kill() }
