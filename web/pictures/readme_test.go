package pictures

import (
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// shown is a picture as the README shows it, and what it says below.
var shown = regexp.MustCompile(`!\[([^\]]*)\]\(web/pictures/([a-z0-9-]+)\.png\)([^|\n]*)`)

// Each picture exists, is of the size that its caption states and as small as
// is promised, and the README shows every one with words for who can't see it.
func TestReadmeShowsThePictures(t *testing.T) {
	b, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	readme := string(b)
	captions := map[string][]string{}
	for _, m := range shown.FindAllStringSubmatch(readme, -1) {
		captions[m[2]] = m
	}
	if n := strings.Count(readme, "web/pictures/"); n != len(captions) || n != len(All()) {
		t.Errorf("the README names pictures %d times, shows %d, and there are %d", n, len(captions), len(All()))
	}
	all := int64(0)
	for _, p := range All() {
		m := captions[p.Name]
		if m == nil {
			t.Errorf("the README doesn't show %s", p.Name)
			continue
		}
		if len(m[1]) < 40 {
			t.Errorf("%s has no words for who can't see it: %q", p.Name, m[1])
		}
		if size := fmt.Sprintf("%d × %d", p.Width, p.Height); !strings.Contains(m[3], size) {
			t.Errorf("below %s the README doesn't say %s", p.Name, size)
		}
		file, err := os.Open(p.Name + ".png")
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		img, err := png.Decode(file)
		if err != nil {
			t.Fatalf("%s: %v", p.Name, err)
		}
		if got := img.Bounds().Size(); got != image.Pt(p.Width, p.Height) {
			t.Errorf("%s is %v", p.Name, got)
		}
		if _, few := img.(*image.Paletted); !few {
			t.Errorf("%s has no palette", p.Name)
		}
		info, err := file.Stat()
		if err != nil {
			t.Fatal(err)
		}
		if all += info.Size(); info.Size() > MostBytes {
			t.Errorf("%s has %d bytes, at most %d", p.Name, info.Size(), MostBytes)
		}
	}
	if all > 400<<10 {
		t.Errorf("all pictures have %d bytes", all)
	}
	files, err := filepath.Glob("*.png")
	if err != nil || len(files) != len(All()) {
		t.Errorf("the folder has %v (%v)", files, err)
	}

	// What it is, and the two commands, come before anything to look at.
	first := shown.FindStringIndex(readme)
	if first == nil || strings.Index(readme, "make test    #") > first[0] || !strings.Contains(readme[:first[0]], "make run     #") {
		t.Error("the pictures come before the two commands")
	}
}
