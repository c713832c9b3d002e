// Command withserver starts a PostgreSQL to test on, runs a command with its address in TAGALONG_TEST_SERVER, and
// stops it. It ends with the command's exit code.
//
//	go run ./internal/postgres/pgtest/withserver go test ./...
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"os/signal"
	"syscall"

	"tagalong/internal/postgres/pgtest"
)

func main() {
	if len(os.Args) < 2 {
		fmt.Fprintln(os.Stderr, "usage: withserver COMMAND [ARGUMENT...]")
		os.Exit(2)
	}
	// The command gets a Ctrl-C as well; we wait for it to end before the server goes.
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	err := pgtest.Serve(context.WithoutCancel(ctx), os.Stderr, func(superURL string) error {
		cmd := exec.CommandContext(ctx, os.Args[1], os.Args[2:]...)
		cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
		cmd.Env = append(os.Environ(), pgtest.ServerVariable+"="+superURL)
		cmd.Stdin, cmd.Stdout, cmd.Stderr = os.Stdin, os.Stdout, os.Stderr
		return cmd.Run()
	})
	var exit *exec.ExitError
	switch {
	case errors.As(err, &exit) && exit.ExitCode() > 0:
		os.Exit(exit.ExitCode())
	case err != nil:
		fmt.Fprintln(os.Stderr, "withserver:", err)
		os.Exit(1)
	}
}
