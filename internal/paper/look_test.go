package paper

import (
	"io"
	"os"
	"testing"
)

func TestLook(t *testing.T) {
	do := func(name string, f func(io.Writer) error) {
		w, _ := os.Create("/tmp/look-" + name + ".pdf")
		if err := f(w); err != nil {
			t.Fatal(err)
		}
		w.Close()
	}
	do("t", func(w io.Writer) error { return WriteTraveller(w, exampleTraveller()) })
	do("b", func(w io.Writer) error { return WriteBadges(w, exampleBadges(), at(25, 14, 0)) })
	do("s", func(w io.Writer) error { return WriteStationSigns(w, exampleSigns(), at(25, 14, 0)) })
	do("p", func(w io.Writer) error { return WritePackingList(w, examplePackingList()) })
	x := exampleTraveller()
	x.Lots[0].Name = "Žluťoučký kůň 面板 wall \U0001F600"
	x.Lots[0].Customer = "The Very Long Named Hospital Trust of Larkfield and All Its Outlying Villages, north roof, second plant deck, behind the lift"
	x.Lots[0].Item = "ENC-2400-W2-LONGITEMCODE-WITHOUT-SPACES-0001"
	x.Holds = []Hold{{Reason: "Heat 77K20 under enquiry", Since: at(24, 9, 0), By: "R. Tan", Release: "quality manager"}}
	x.Lots = x.Lots[:1]
	for range 30 {
		x.Lots[0].Steps = append(x.Lots[0].Steps, x.Lots[0].Steps[3])
	}
	do("l", func(w io.Writer) error { return WriteTraveller(w, x) })
}
