package print

import (
	"cmp"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"tagalong/internal/code"
	"tagalong/internal/paper"
)

// The prints as pictures, beside those of the screens where these are asked
// for: every form draws, at the size it has on paper.
func TestPicturesOfPrints(t *testing.T) {
	tr := example(t)
	dir := cmp.Or(os.Getenv("TAGALONG_SCREENSHOTS"), t.TempDir())
	container := paper.ContainerLabel{
		Kind: "pallet", Code: tr.Code, Address: tr.Address, Consignment: "C7TW 5HGK", No: 1, Of: 3, Orders: []paper.OrderPart{{Order: "4117", Nth: 1, Of: 3}}, Customer: "Larkfield Hospital",
		Site: "Larkfield Hospital, north roof, gate 3", MassKg: 68.4, GrossKg: 96.5, Marks: []paper.Mark{paper.Fragile, paper.ThisWayUp, paper.KeepDry}, Shop: tr.Shop, Notice: tr.Notice,
		Contents: []paper.Content{{Count: 4, Item: "ENC-2400-W2 rev C", Name: "wall panel, louvre side"}, {Count: 2, Item: "ENC-2400-D1 rev B", Name: "door leaf, left hand"}},
	}
	var slots []paper.PlaceSign
	for _, s := range []string{"A1", "A2", "A3", "A4", "B1", "B2", "B3", "B4"} {
		slots = append(slots, paper.PlaceSign{Shop: tr.Shop, Store: "pallet store, slot", Place: s, Address: code.PlaceAddress("HTTPS://TAGALONG.EXAMPLE", code.Place{Station: "STORE-1", Slot: s}), Notice: tr.Notice})
	}
	for _, p := range []struct {
		name  string
		w, h  float64 // mm
		write func(io.Writer) error
	}{
		{"a4", 210, 297, func(w io.Writer) error { return paper.WriteTravellers(w, paper.A4, tr) }},
		{"a5", 148, 210, func(w io.Writer) error { return paper.WriteTravellers(w, paper.A5, tr) }},
		{"label", 100, 150, func(w io.Writer) error { return paper.WriteTravellers(w, paper.Label, tr) }},
		{"container", 100, 150, func(w io.Writer) error {
			return paper.WriteContainerLabels(w, []paper.ContainerLabel{container}, tr.PrintedAt)
		}},
		{"slots", 210, 297, func(w io.Writer) error { return paper.WritePlaceSigns(w, slots, tr.PrintedAt) }},
	} {
		file, err := os.Create(filepath.Join(t.TempDir(), p.name+".pdf"))
		if err != nil {
			t.Fatal(err)
		}
		if err := p.write(file); err != nil {
			t.Fatalf("%s: %v", p.name, err)
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
		const dpi = 120
		root := filepath.Join(dir, "print-"+p.name)
		if out, err := exec.Command("pdftoppm", "-r", "120", "-singlefile", "-png", file.Name(), root).CombinedOutput(); err != nil {
			t.Fatalf("pdftoppm: %v\n%s", err, out)
		}
		picture, err := os.Open(root + ".png")
		if err != nil {
			t.Fatal(err)
		}
		size, err := png.DecodeConfig(picture)
		_ = picture.Close()
		if err != nil {
			t.Fatal(err)
		}
		wantW, wantH := p.w/25.4*dpi, p.h/25.4*dpi
		if d := float64(size.Width) - wantW; d < -1 || d > 2 {
			t.Errorf("%s is %d dots wide, want %.0f", p.name, size.Width, wantW)
		}
		if d := float64(size.Height) - wantH; d < -1 || d > 2 {
			t.Errorf("%s is %d dots high, want %.0f", p.name, size.Height, wantH)
		}
	}
}
