package privatepg

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
)

// installCommand names the one command that installs PostgreSQL on this kind of machine.
// major is 0 where any new version will do; has tells whether a program is on the path.
func installCommand(goos string, root bool, major int, has func(string) bool) string {
	sudo := "sudo "
	if root {
		sudo = ""
	}
	versioned := func(name, sep string) string {
		if major == 0 {
			return name
		}
		return fmt.Sprintf("%s%s%d", name, sep, major)
	}
	switch {
	case goos == "darwin":
		if major == 0 {
			major = 17
		}
		return fmt.Sprintf("brew install postgresql@%d", major)
	case has("apt-get"):
		return sudo + "apt-get install -y " + versioned("postgresql", "-")
	case has("dnf"):
		return sudo + "dnf install -y " + versioned("postgresql", "") + "-server"
	case has("apk"):
		return sudo + "apk add " + versioned("postgresql", "")
	case has("pacman"):
		return sudo + "pacman -S --noconfirm postgresql"
	case has("zypper"):
		return sudo + "zypper --non-interactive install " + versioned("postgresql", "") + "-server"
	case has("brew"):
		return "brew install " + versioned("postgresql", "@")
	}
	return sudo + "apt-get install -y " + versioned("postgresql", "-")
}

// findOrInstall finds PostgreSQL, or installs it where that needs no question: as root with apt-get.
func findOrInstall(ctx context.Context, f Finder, major int, out io.Writer) (Programs, error) {
	p, err := f.Newest(ctx, major)
	var missing *MissingError
	if err == nil || !errors.As(err, &missing) {
		return p, err
	}
	if err := aptInstall(ctx, major, out); err != nil {
		if errors.Is(err, errNoInstaller) {
			return Programs{}, missing
		}
		return Programs{}, fmt.Errorf("%w\n(installing it failed: %v)", missing, err)
	}
	return f.Newest(ctx, major)
}

func aptInstall(ctx context.Context, major int, out io.Writer) error {
	if os.Geteuid() != 0 || !onPath("apt-get") {
		return errNoInstaller
	}
	pkg := "postgresql"
	if major != 0 {
		pkg = fmt.Sprintf("postgresql-%d", major)
	}
	fmt.Fprintf(out, "PostgreSQL isn't installed; installing the package %s with apt-get.\n", pkg)
	if err := aptGet(ctx, out, "update", "-q"); err != nil {
		// A machine with one unreachable archive can often still install from the lists it has.
		fmt.Fprintf(out, "  apt-get update failed (%v); going on with the lists already here.\n", err)
	}
	return aptGet(ctx, out, "install", "-q", "-y", "--no-install-recommends", pkg)
}

// aptGet runs apt-get and passes its lines on, indented, so that a slow download is seen to move.
func aptGet(ctx context.Context, out io.Writer, args ...string) error {
	cmd := exec.CommandContext(ctx, "apt-get", args...)
	cmd.Env = append(os.Environ(), "DEBIAN_FRONTEND=noninteractive")
	pipe, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	cmd.Stderr = cmd.Stdout
	if err := cmd.Start(); err != nil {
		return err
	}
	last := ""
	for lines := bufio.NewScanner(pipe); lines.Scan(); {
		if line := strings.TrimSpace(lines.Text()); line != "" {
			last = line
			fmt.Fprintf(out, "  %s\n", line)
		}
	}
	if err := cmd.Wait(); err != nil {
		return fmt.Errorf("apt-get %s: %w: %s", args[0], err, last)
	}
	return nil
}
