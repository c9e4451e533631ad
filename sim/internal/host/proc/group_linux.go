package proc

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
)

// own puts the program at the head of a process group of its own; the program
// itself dies with the simulator, whatever ends that.
func own(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}

func killGroup(cmd *exec.Cmd) { syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }

// sweeps bounds how often processes are looked for that were started while
// others were being killed.
const sweeps = 10

// killMarked kills every process of ours whose environment has mark: what has
// left the group of the program that started it.
func killMarked(mark string) {
	for range sweeps {
		if !sweep(append([]byte(mark), 0)) {
			return
		}
	}
}

func sweep(mark []byte) (found bool) {
	files, err := filepath.Glob("/proc/[0-9]*/environ")
	if err != nil {
		return false
	}
	for _, file := range files {
		env, err := os.ReadFile(file)
		if err != nil || !bytes.Contains(env, mark) { // of others we may not read it
			continue
		}
		if pid, err := strconv.Atoi(filepath.Base(filepath.Dir(file))); err == nil {
			found = syscall.Kill(pid, syscall.SIGKILL) == nil || found
		}
	}
	return found
}
