package quality_test

import (
	"os"
	"testing"

	"tagalong/internal/browsertest"
)

func TestMain(m *testing.M) { os.Exit(browsertest.Sharing(m).Run()) }
