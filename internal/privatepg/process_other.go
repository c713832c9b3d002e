//go:build unix && !linux

package privatepg

import (
	"os/exec"
	"strconv"
	"strings"
	"syscall"
)

// childAttributes starts a child as the account, in a process group of its own. This system can't stop a child
// when its parent dies; the next start finds and stops such an orphan.
func childAttributes(a account, _ syscall.Signal) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Credential: a.credential(), Setpgid: true}
}

// processesOn returns the PostgreSQL server started by us on a data folder, known by its arguments.
func processesOn(data string) []int {
	out, err := exec.Command("ps", "-A", "-o", "pid=", "-o", "args=").Output()
	if err != nil {
		return nil
	}
	var pids []int
	for _, line := range strings.Split(string(out), "\n") {
		number, args, _ := strings.Cut(strings.TrimSpace(line), " ")
		if pid, err := strconv.Atoi(number); err == nil && strings.Contains(args, "postgres -D "+data+" ") {
			pids = append(pids, pid)
		}
	}
	return pids
}

// seesAllProcesses tells whether processesOn also finds the children of a dead server.
const seesAllProcesses = false
