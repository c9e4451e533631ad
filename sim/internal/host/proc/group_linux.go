package proc

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"time"
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

// blurred is how long a process is waited for that has started since the program did and
// whose environment cannot be read: it is becoming another program (execve(2)), and shows
// an empty one until it is.
const blurred = time.Second

// killMarked kills every process of ours whose environment has mark: what has
// left the group of the program that started it, at that moment or later.
func killMarked(mark string, started uint64) {
	for n, begun := 0, time.Now(); n < sweeps; {
		switch found, unclear := sweep(append([]byte(mark), 0), started); {
		case found:
			n++
		case unclear && time.Since(begun) < blurred:
			time.Sleep(time.Millisecond)
		default:
			return
		}
	}
}

func sweep(mark []byte, started uint64) (found, unclear bool) {
	files, err := filepath.Glob("/proc/[0-9]*/environ")
	if err != nil {
		return false, false
	}
	for _, file := range files {
		env, err := os.ReadFile(file)
		if err != nil { // of others we may not read it
			continue
		}
		pid, err := strconv.Atoi(filepath.Base(filepath.Dir(file)))
		switch {
		case err != nil:
		case bytes.Contains(env, mark):
			found = syscall.Kill(pid, syscall.SIGKILL) == nil || found
		case len(env) == 0:
			unclear = unclear || isProgram(pid) && startOf(pid) >= started
		}
	}
	return found, unclear
}

// isProgram says whether a process runs a file, which threads of the kernel and the dead
// do not.
func isProgram(pid int) bool {
	_, err := os.Readlink(fmt.Sprintf("/proc/%d/exe", pid))
	return err == nil
}

// startOf is when a process was started, in ticks since the machine was (proc_pid_stat(5),
// field 22); 0 if that cannot be told.
func startOf(pid int) uint64 {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		return 0
	}
	f := bytes.Fields(text[bytes.LastIndexByte(text, ')')+1:]) // from field 3 on
	if len(f) < 20 {
		return 0
	}
	n, err := strconv.ParseUint(string(f[19]), 10, 64)
	if err != nil {
		return 0
	}
	return n
}
