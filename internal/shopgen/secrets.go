package shopgen

import (
	"crypto/sha256"
	"fmt"
	"io"
	"math/rand/v2"

	"tagalong/internal/core"
	"tagalong/internal/sign"
)

// seed makes every demo shop the same, secrets and all: they are for trying
// things out, and the demo says so.
const seed = "Corrie Sheetworks, Larkfield: invented"

// Random is the stream of a name, the same every time. It is predictable, and
// so for a demo shop only.
func Random(name string) io.Reader {
	return rand.NewChaCha8(sha256.Sum256([]byte(seed + "\n" + name)))
}

// Badge is the badge of a person of the demo shop; issue counts from 1 and
// above 1 where a badge was lost.
func Badge(p core.PersonID, issue int) (sign.Badge, error) {
	return sign.NewBadge(badgeStream(p, issue))
}

func badgeStream(p core.PersonID, issue int) io.Reader {
	return Random(fmt.Sprintf("badge %d of %s", issue, p))
}

// PIN is the PIN of a person of the demo shop.
func PIN(p core.PersonID) string {
	r := rand.New(rand.NewChaCha8(sha256.Sum256([]byte(seed + "\nPIN of " + string(p)))))
	for {
		text := fmt.Sprintf("%06d", r.IntN(1_000_000))
		if pin, err := sign.ParsePIN(text); err == nil && pin.CheckNew() == nil {
			return text
		}
	}
}
