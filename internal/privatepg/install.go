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
	// as makes root's commands out of some, in turn. Debian has no sudo unless it was asked for; the "-" of su gives
	// root's own path, without which dpkg stops.
	as := func(commands ...string) string {
		switch {
		case root:
			return strings.Join(commands, " && ")
		case has("sudo"):
			return "sudo " + strings.Join(commands, " && sudo ")
		}
		return "su - -c '" + strings.Join(commands, " && ") + "'"
	}
	// Where no list of packages was ever fetched, apt-get knows of none.
	apt := func() string { return as("apt-get update", "apt-get install -y "+versioned("postgresql", major, "-")) }
	switch {
	case goos == "darwin":
		if major == 0 {
			major = 17
		}
		return fmt.Sprintf("brew install postgresql@%d", major)
	case has("apt-get"):
		return apt()
	case has("dnf"):
		return as("dnf install -y " + versioned("postgresql", major, "") + "-server")
	case has("apk"):
		return as("apk add " + versioned("postgresql", major, ""))
	case has("pacman"):
		return as("pacman -S --noconfirm postgresql")
	case has("zypper"):
		return as("zypper --non-interactive install " + versioned("postgresql", major, "") + "-server")
	case has("brew"):
		return "brew install " + versioned("postgresql", major, "@")
	}
	return apt()
}

// versioned is the name of the package of one major version, or of any.
func versioned(name string, major int, sep string) string {
	if major == 0 {
		return name
	}
	return fmt.Sprintf("%s%s%d", name, sep, major)
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
