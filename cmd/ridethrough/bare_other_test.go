//go:build !linux

package main

import "os/exec"

func bare(path string, args ...string) *exec.Cmd { return exec.Command(path, args...) }
