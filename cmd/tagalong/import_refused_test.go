package main

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strings"
	"testing"
)

// TestImportByPageRefuses: each in a sentence, and nothing of it is stored.
func TestImportByPageRefuses(t *testing.T) {
	s := newShop(t)
	b := s.signedIn("P02") // a manager
	events := s.count(t, "event")
	if got := b.upload(files{}); got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(got.body, "No file was chosen.") {
		t.Errorf("no file: %d", got.StatusCode)
	}
	if got := b.form("/import", nil); got.StatusCode != http.StatusBadRequest || !strings.Contains(got.body, "it is no form with files") {
		t.Errorf("no form: %d", got.StatusCode)
	}
	large := files{"orders.csv": strings.Repeat("x", 33<<20)}
	if got := b.upload(large); got.StatusCode != http.StatusRequestEntityTooLarge || !strings.Contains(got.body, "larger than 32 MiB together") {
		t.Errorf("large files: %d", got.StatusCode)
	}
	many := files{}
	for i := range 41 {
		many[fmt.Sprintf("f%d.csv", i)] = "x"
	}
	if got := b.upload(many); got.StatusCode != http.StatusRequestEntityTooLarge {
		t.Errorf("many files: %d", got.StatusCode)
	}
	orders := "order,customer,promised\nO-1,Moor,2026-12-01\n"
	for what, c := range map[string]struct {
		f    files
		want []string
	}{
		"a workbook by another name": {files{"orders.csv": "PK\x03\x04\x00"}, []string{"a workbook or a packed folder, not text"}},
		"another encoding":           {files{"orders.csv": "order,customer,promised\nO-1,M\xf6\xf6r,2026-12-01\n", "lines.csv": "order,line,item,rev,qty\n"}, []string{"line 2, column 2", "byte 0xF6, byte 6 of the line, which is not UTF-8"}},
		"a column missing":           {files{"orders.csv": "order,customer\nO-1,Moor\n"}, []string{"no column promised"}},
		"a column doubled":           {files{"orders.csv": "order,customer,promised,order\nO-1,Moor,2026-12-01,O-1\n"}, []string{"the column order again, first as column 1"}},
		"an unknown file":            {files{"order.csv": orders}, []string{"a file of an unknown name", "the name orders.csv"}},
		"half an import":             {files{"lines.csv": "order,line,item,rev,qty\nO-1,1,WP-2400,D,1\n"}, []string{"lines about orders, and no orders.csv beside it"}},
		"the other half":             {files{"orders.csv": orders}, []string{"order O-1, new to the shop, and no lines.csv beside it"}},
		"markup":                     {files{"orders.csv": "order,customer,promised\n<script>alert(1)</script>,Moor,2026-12-01\n"}, []string{"&lt;script&gt;"}},
		"people, by a manager":       {files{"people.csv": "person,name,roles\nP02,Tobin Farrow,manager admin\n"}, []string{"1 person who would be new or changed, and you are no admin"}},
	} {
		address, page := b.planned(c.f)
		for _, want := range append(c.want, "nothing can be stored") {
			if !strings.Contains(page, want) {
				t.Errorf("%s: the page lacks %q", what, want)
			}
		}
		b.press(address, "store")
		if page := b.settledPage(address); !strings.Contains(page, "nothing can be stored") {
			t.Errorf("%s could be stored: %s", what, page)
		}
	}
	if after := s.count(t, "event"); after != events {
		t.Errorf("%d events were recorded", after-events)
	}
}

// TestTooManyImportsWait: there is room for so many, whoever comes after waits
// and is told so, and their files lie in the server's folder, not in memory.
func TestTooManyImportsWait(t *testing.T) {
	s := newShop(t)
	badge := s.badge("P01")
	signIn := func() *browser {
		b := s.browser()
		if got := b.form("/signin", url.Values{"badge": {badge}, "pin": {pin}}); got.StatusCode != http.StatusSeeOther {
			t.Fatalf("sign in: %d %s", got.StatusCode, got.body)
		}
		return b
	}
	some := files{"batches.csv": "batch,kind\nB-1,bath\n"}
	lying := func() int {
		all, err := os.ReadDir(s.app.Uploads)
		must(t, err)
		return len(all)
	}
	first := signIn()
	address, _ := first.planned(some)
	for range 11 {
		signIn().planned(some)
	}
	late := signIn()
	got := late.upload(some)
	if got.StatusCode != http.StatusServiceUnavailable || !strings.Contains(got.body, "Too many imports wait to be looked at.") || !strings.Contains(got.body, "Nothing was stored.") {
		t.Errorf("the thirteenth: %d %s", got.StatusCode, got.body)
	}
	if n := lying(); n != 12 {
		t.Errorf("%d uploads lie in the folder, want 12", n)
	}
	first.press(address, "discard")
	if n := lying(); n != 11 {
		t.Errorf("%d uploads lie there after one was thrown away, want 11", n)
	}
	if _, page := late.planned(some); !strings.Contains(page, "1 line is new") {
		t.Errorf("with room again: %s", page)
	}
	if got := late.upload(files{"orders.csv": strings.Repeat("x", 33<<20)}); got.StatusCode != http.StatusRequestEntityTooLarge || lying() != 11 {
		t.Errorf("after a refused upload %d lie there: %d", lying(), got.StatusCode)
	}
}

// TestImportByPageKeepsItsWord: files are their sender's, are stored once, and
// only as they were shown.
func TestImportByPageKeepsItsWord(t *testing.T) {
	s := newShop(t)
	badge := s.badge("P01")
	var twice [2]*browser
	for i := range twice {
		twice[i] = s.browser()
		if got := twice[i].form("/signin", url.Values{"badge": {badge}, "pin": {pin}}); got.StatusCode != http.StatusSeeOther {
			t.Fatalf("sign in: %d", got.StatusCode)
		}
	}
	admin, again := twice[0], twice[1]
	other := s.signedIn("P02")
	orders := func(day string) files {
		return files{
			"orders.csv": "order,customer,promised\nO-9001,Tarnside School," + day + "\n",
			"lines.csv":  "order,line,item,rev,qty\nO-9001,1,WP-2400,D,2\n",
		}
	}
	address, _ := admin.planned(orders("2026-12-18"))
	for name, b := range map[string]*browser{"somebody else": other, "another sign-in": again} {
		for _, path := range []string{"", "/state", "/files.zip"} {
			if got := b.get(address + path); got.StatusCode != http.StatusNotFound || strings.Contains(got.body, "Tarnside") {
				t.Errorf("%s gets %s: %d", name, path, got.StatusCode)
			}
		}
		if got := b.press(address, "store"); got.StatusCode != http.StatusNotFound || !strings.Contains(got.body, "not kept here any more") {
			t.Errorf("%s stores: %d", name, got.StatusCode)
		}
	}
	// The shop moves on under the plan: what was not seen is not stored.
	otherAddress, _ := other.planned(orders("2026-12-21"))
	other.press(otherAddress, "store")
	if page := other.settledPage(otherAddress); !strings.Contains(page, "<h1>Stored</h1>") {
		t.Fatalf("the other's import: %s", page)
	}
	// The record says whose word it was.
	if who := s.lastImporter(t); who != "P02" {
		t.Errorf("the import is on record as %q's", who)
	}
	admin.press(address, "store")
	page := admin.settledPage(address)
	if !strings.Contains(page, "The shop has changed since these files were read. Nothing was stored.") || !strings.Contains(page, "2026-12-21") {
		t.Errorf("after the shop moved on: %s", page)
	}
	// Pressed twice, stored once.
	events := s.count(t, "event")
	admin.press(address, "store")
	admin.press(address, "store")
	if page := admin.settledPage(address); !strings.Contains(page, "<h1>Stored</h1>") || s.count(t, "event") != events+1 {
		t.Errorf("stored %d times: %s", s.count(t, "event")-events, page)
	}
	if got := admin.press(address, "fly"); got.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("an unknown button: %d", got.StatusCode)
	}
	admin.press(address, "discard")
	if got := admin.get(address); got.StatusCode != http.StatusNotFound {
		t.Errorf("thrown away, it is %d", got.StatusCode)
	}
	// A newer upload of the same sign-in takes the place of the one before, and a
	// server started anew has none.
	first, _ := admin.planned(orders("2026-12-22"))
	second, _ := admin.planned(orders("2026-12-23"))
	if got := admin.get(first); got.StatusCode != http.StatusNotFound {
		t.Errorf("the upload before: %d", got.StatusCode)
	}
	admin.shop = s.restarted(t) // cookies are a host's, on whatever port
	got := admin.get(second)
	if got.StatusCode != http.StatusNotFound || !strings.Contains(got.body, "not when the server is started anew") {
		t.Errorf("after a restart: %d %s", got.StatusCode, got.body)
	}
	s.verified(t)
}
