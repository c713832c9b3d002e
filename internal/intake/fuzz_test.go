package intake_test

import (
	"fmt"
	"io/fs"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"tagalong/internal/intake"
)

// FuzzRead spoils one file of the tiny shop in every way: nothing panics, a
// fault names its file and a line that is there, and what is read without a
// fault is written and read equal.
func FuzzRead(f *testing.F) {
	var names []string
	for n := range tiny {
		names = append(names, n)
	}
	slices.Sort(names)
	for i, n := range names {
		f.Add(uint8(i), []byte(tiny[n]))
		if data, err := os.ReadFile(samples + "/" + n); err == nil {
			f.Add(uint8(i), data[:min(len(data), 2000)])
		}
	}
	f.Add(uint8(0), []byte("\xef\xbb\xbf\"station\",name,stages\r\n\"a\r\nb\",\"\"\"\",cut\r\n"))
	whole, _ := intake.Read(folder(tiny), emptyShop())
	known := shopOf(whole)
	f.Fuzz(func(t *testing.T, which uint8, data []byte) {
		name := names[int(which)%len(names)]
		b, faults := intake.Read(folder(tiny, name, string(data)), emptyShop())
		changesAddUp(t, folder(tiny, name, string(data)), known)
		for _, x := range faults {
			if x.More == 0 && (x.Line > strings.Count(string(data)+tiny[x.File], "\n")+2 || x.Got == "" || x.Want == "") {
				t.Errorf("%+v", x)
			}
			if s := x.String(); !strings.HasSuffix(s, ".") || strings.ContainsRune(s, 0) {
				t.Errorf("no sentence: %q", s)
			}
		}
		if len(faults) > 0 {
			if !reflect.DeepEqual(b, intake.Bundle{}) {
				t.Error("a bundle came with the faults")
			}
			return
		}
		again, faults := intake.Read(asFS(t, b), emptyShop())
		if len(faults) > 0 {
			t.Fatalf("written, it reads with %v", faults[0])
		}
		b.Notes, again.Notes = nil, nil
		if !reflect.DeepEqual(again, b) {
			t.Errorf("got  %+v\nwant %+v", again, b)
		}
	})
}

// changesAddUp: no line is told of that isn't counted.
func changesAddUp(t *testing.T, fsys fs.FS, known intake.Known) {
	f := intake.Open(fsys)
	f.Read(known)
	for _, c := range f.Changes() {
		told := 0
		for _, n := range c.Counts {
			told += n
		}
		if told < len(c.Changes) {
			t.Errorf("%s tells of %d lines and counts %d", c.File, len(c.Changes), told)
		}
	}
}

// many is a folder with n lines in all: items, orders, order lines and nests.
func many(n int) fstest.MapFS {
	var items, orders, lines, nests strings.Builder
	items.WriteString(tiny["items.csv"])
	orders.WriteString(tiny["orders.csv"])
	lines.WriteString(tiny["lines.csv"])
	nests.WriteString(tiny["nests.csv"])
	for i := range n / 4 {
		fmt.Fprintf(&items, "X%d,1,part,\"part, no. %d\",5005,aluminium,3,CUT,1\n", i, i)
		fmt.Fprintf(&orders, "Q%d,Customer %d,2026-12-01\n", i, i)
		fmt.Fprintf(&lines, "Q%d,1,X%d,1,4\n", i, i)
		fmt.Fprintf(&nests, "M%d,SH,1,1,X%d,1,Q%d,1,4\n", i/10, i, i)
	}
	return folder(tiny, "items.csv", items.String(), "orders.csv", orders.String(), "lines.csv", lines.String(),
		"nests.csv", strings.ReplaceAll(nests.String(), ",SH,1,1,X", ",SH,1,%,X"))
}

// numbered gives the nest lines of many their part numbers.
func numbered(fsys fstest.MapFS) fstest.MapFS {
	parts := strings.Split(string(fsys["nests.csv"].Data), "%")
	var b strings.Builder
	for i, p := range parts {
		if i > 0 {
			fmt.Fprint(&b, i)
		}
		b.WriteString(p)
	}
	fsys["nests.csv"].Data = []byte(b.String())
	return fsys
}

// TestTenThousandLines holds the importer's speed: 10,000 lines within 2 s.
func TestTenThousandLines(t *testing.T) {
	fsys := numbered(many(10_000))
	start := time.Now()
	b, faults := intake.Read(fsys, emptyShop())
	if took := time.Since(start); took > 2*time.Second {
		t.Errorf("took %v, want at most 2 s", took)
	}
	if len(faults) > 0 || len(b.Items) != 2505 || len(b.Nests) != 251 {
		t.Errorf("%d items, %d nests, faults %v", len(b.Items), len(b.Nests), faults)
	}
}

func BenchmarkRead10000Lines(b *testing.B) {
	fsys, known := numbered(many(10_000)), emptyShop()
	for b.Loop() {
		if _, faults := intake.Read(fsys, known); len(faults) > 0 {
			b.Fatal(faults[0])
		}
	}
}
