package proc

import (
	"os/exec"
	"syscall"
)

// own puts the program at the head of a process group of its own; it dies with
// the simulator, whatever ends that.
func own(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}

func killGroup(cmd *exec.Cmd) { syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
