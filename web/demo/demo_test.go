package demo

import "testing"

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
