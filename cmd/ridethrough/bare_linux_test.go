package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
)

// bare runs a program where there is nothing else: root can do that.
func bare(path string, args ...string) *exec.Cmd {
	if os.Geteuid() != 0 {
		return exec.Command(path, args...)
	}
	cmd := exec.Command("/"+filepath.Base(path), args...)
	cmd.Path, cmd.Dir, cmd.Env = "/"+filepath.Base(path), "/", []string{}
	cmd.SysProcAttr = &syscall.SysProcAttr{Chroot: filepath.Dir(path)}
	return cmd
}
