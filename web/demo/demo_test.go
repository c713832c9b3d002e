package demo

import (
	"regexp"
	"slices"
	"testing"

	"tagalong/internal/app"
	"tagalong/internal/app/apptest"
	"tagalong/internal/core"
)

func TestOwnPath(t *testing.T) {
	for text, want := range map[string]string{
		"/station/pallets/P4K7M2QX": "/station/pallets/P4K7M2QX", "/find?q=O-4101": "/find?q=O-4101",
		"": "/usual", "station": "/usual", "//evil.example": "/usual", `/\evil.example`: "/usual",
		"https://evil.example/x": "/usual", "/a\x00b": "/usual", "javascript:alert(1)": "/usual",
	} {
		if got := ownPath(text, "/usual"); got != want {
			t.Errorf("%q goes on to %q, want %q", text, got, want)
		}
	}
}

// What the pallets have moved on from is proposed no more.
func TestTriesFollowTheShop(t *testing.T) {
	world := apptest.New(t).World
	book := world.Book
	titles := func(cards ...app.PalletCard) []string {
		var out []string
		for _, x := range tries(book, cards) {
			out = append(out, x.title)
			if x.at != "" && book.Stations[x.at].ID == "" {
				t.Errorf("%q is at %s, which the shop lacks", x.title, x.at)
			}
			if _, there := book.People[x.by]; x.by != "" && !there {
				t.Errorf("%q is signed by %s, whom the shop lacks", x.title, x.by)
			}
		}
		return out
	}
	frame := app.PalletCard{Code: "P4K7M2QX", Station: "INSPECT-1", Names: []string{"base frame 2400"}, Stages: []core.StageName{"weld-inspect"}}
	if got := titles(frame); !slices.Contains(got, "Release a weld") || !slices.Contains(got, "Pass an unreleased hold") {
		t.Errorf("with a frame to inspect: %q", got)
	}
	frame.Stages = []core.StageName{"rivet-nut"}
	if got := titles(frame); slices.Contains(got, "Release a weld") {
		t.Errorf("once it is released: %q", got)
	}
	sheet := app.PalletCard{Code: "S4K7M2QX", Station: "BENCH-1", Stages: []core.StageName{"separate"}}
	i := slices.IndexFunc(tries(book, []app.PalletCard{sheet}), func(x try) bool { return x.title == "Break out a cut sheet" })
	if i < 0 {
		t.Fatal("a cut sheet at the bench is not worth a try")
	}
	named := regexp.MustCompile(`N-\d+`).FindString(tries(book, []app.PalletCard{sheet})[i].text)
	if !slices.ContainsFunc(world.State.Nests[named].Parts, func(p core.NestPart) bool { return p.Item.Item == "ST-1900" }) {
		t.Errorf("the nest named, %q, has no stiffeners", named)
	}
	held := app.PalletCard{Code: "P4K7M2QX", Station: "BRAKE-1", Stages: []core.StageName{"fold"}, Held: true}
	if got := titles(held); slices.Contains(got, "Fold for two orders") {
		t.Errorf("with a held pallet: %q", got)
	}
	if got := titles(); !slices.Contains(got, "Where is my order?") {
		t.Errorf("with nothing on the floor: %q", got)
	}
}
