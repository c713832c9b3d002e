package code

import (
	"fmt"
	"sync"
	"testing"
)

// A kept symbol is the one its content makes, whoever asks for it and when, and
// no more are kept than there is room for. A secret's is not kept.
func TestKeptSymbolsAreTheirContents(t *testing.T) {
	address := func(i int) string { return fmt.Sprintf("HTTPS://TAGALONG.EXAMPLE/P/P%06dX", i) }
	var all sync.WaitGroup
	for from := range 4 {
		all.Go(func() {
			for i := from; i < mostDrawn+100; i += 3 {
				got, err := QR(address(i))
				if err != nil {
					t.Error(err)
					return
				}
				if i%97 != 0 {
					continue
				}
				want, err := SecretQR(address(i))
				if err != nil || got.Path() != want.Path() {
					t.Errorf("the symbol of %s is not its own: %v", address(i), err)
				}
			}
		})
	}
	all.Wait()
	if n := len(drawn.symbols); n == 0 || n > mostDrawn {
		t.Errorf("%d symbols kept, of at most %d", n, mostDrawn)
	}
	if _, err := SecretQR("TB1:SECRET"); err != nil {
		t.Fatal(err)
	}
	if _, kept := drawnBefore("TB1:SECRET"); kept {
		t.Error("a badge's symbol was kept")
	}
}
