package privatepg

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
)

// childAttributes starts a child as the account, in a process group of its own (a Ctrl-C meant for us must not
// stop the database before we do), and has the system stop it should we die. The signal comes when the *thread*
// that started the child ends, so the starting goroutine must stay locked to its thread.
func childAttributes(a account, onOurDeath syscall.Signal) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Credential: a.credential(), Setpgid: true, Pdeathsig: onOurDeath}
}

// processesOn returns the PostgreSQL processes at work in a data folder: each has it as its working folder.
func processesOn(data string) []int {
	if real, err := filepath.EvalSymlinks(data); err == nil {
		data = real
	}
	entries, _ := os.ReadDir("/proc") // none without /proc
	var pids []int
	for _, e := range entries {
		pid, err := strconv.Atoi(e.Name())
		if err != nil {
			continue
		}
		cwd, err := os.Readlink(filepath.Join("/proc", e.Name(), "cwd"))
		if err != nil || cwd != data {
			continue
		}
		exe, err := os.Readlink(filepath.Join("/proc", e.Name(), "exe"))
		if err != nil {
			continue // gone meanwhile, or a zombie
		}
		// After an upgrade the program file of a running server is "postgres (deleted)".
		if strings.TrimSuffix(filepath.Base(exe), " (deleted)") == "postgres" {
			pids = append(pids, pid)
		}
	}
	return pids
}

// seesAllProcesses tells whether processesOn also finds the children of a dead server.
const seesAllProcesses = true
