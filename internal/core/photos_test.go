package core

import (
	"strings"
	"testing"
)

func TestParsePhoto(t *testing.T) {
	hash := strings.Repeat("0f", 32)
	for name, want := range map[string]Ring{
		hash:                               {},
		hash + "#xywh=percent:25,25,50,50": {25, 25, 50, 50}, // the standard's own example of percent
		hash + "#xywh=percent:0,0,100,100": {0, 0, 100, 100},
	} {
		got, ring, err := ParsePhoto(name)
		if got != hash || ring != want || err != nil {
			t.Errorf("%s: %s, %v, %v", name, got, ring, err)
		}
	}
	for _, name := range []string{
		"", hash[1:], strings.ToUpper(hash), hash + "#", hash + "#xywh=25,25,50,50", hash + "#xywh=percent:25,25,50", hash + "#xywh=percent:-1,0,5,5",
		hash + "#xywh=percent:60,0,50,10", hash + "#xywh=percent:0,99,10,2", hash + "#xywh=percent:10,10,0,10", hash + "#xywh=percent:1,1,2,2\n",
	} {
		if _, _, err := ParsePhoto(name); err == nil {
			t.Errorf("%q is taken for a photo", name)
		}
	}
}
