// Command gentable writes REFUSALS.md into the folder it is run in.
package main

import (
	"fmt"
	"os"

	"tagalong/internal/words"
)

func main() {
	if err := os.WriteFile("REFUSALS.md", []byte(words.Document()), 0o644); err != nil {
		fmt.Fprintln(os.Stderr, "gentable:", err)
		os.Exit(1)
	}
}
