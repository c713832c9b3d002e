package main

import (
	"bytes"
	"encoding/base64"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"tagalong/internal/postgres/pgtest"
)

// tagalong runs the program and returns its exit code and what it says.
func tagalong(t *testing.T, settings map[string]string, args ...string) (code int, out, log string) {
	t.Helper()
	var o, l bytes.Buffer
	code = run(t.Context(), args, func(name string) string { return settings[name] }, &o, &l)
	return code, o.String(), l.String()
}

// TestFirstAdminAtTheCommandLine uses a database somebody else looks after.
func TestFirstAdminAtTheCommandLine(t *testing.T) {
	env := map[string]string{"TAGALONG_DATABASE_URL": pgtest.NewEmpty(t).SuperURL, "TAGALONG_DATA": t.TempDir()}
	for _, x := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"migrate"}, 0, "up to date"},
		{[]string{"shop"}, 0, "name"},
		{[]string{"shop", "--zone", "Nowhere/Town", "--name", "Corrie Sheetworks"}, 1, "time zone"},
		{[]string{"shop", "--zone", "Europe/London", "--name", "Corrie Sheetworks"}, 0, "Europe/London"},
		{[]string{"people", "first-admin"}, 2, "--name is missing"},
		{[]string{"people", "first-admin", "--name", "Ansa Brookline"}, 0, "first admin"},
		{[]string{"people", "first-admin", "--name", "Ansa Brookline"}, 1, "an admin already"},
		{[]string{"people", "list"}, 0, "Ansa Brookline  admin  badge: yes  PIN: no"},
		{[]string{"people", "badge", "--person", "nobody"}, 1, "nobody of that number"},
		{[]string{"people", "fire"}, 2, "no `tagalong people fire`"},
		{[]string{"people"}, 2, "needs another word"},
		{[]string{"tablet", "list"}, 0, ""},
		{[]string{"tablet", "code", "--station", "MOON-1"}, 1, "no station “MOON-1”"},
		{[]string{"endpoints", "now"}, 2, "one word too many"},
		{[]string{"endpoints"}, 0, "/api/commands/sign-off"},
		{[]string{"refusals"}, 0, "| pin-wrong |"},
		{[]string{"database-url"}, 0, "postgres://"},
		{[]string{"fly"}, 2, "no command"},
		{nil, 0, "Commands:"},
	} {
		code, out, log := tagalong(t, env, x.args...)
		if code != x.code || !strings.Contains(out+log, x.says) {
			t.Errorf("tagalong %s: %d, want %d with %q:\n%s%s", strings.Join(x.args, " "), code, x.code, x.says, out, log)
		}
	}
}

func TestSettingsThatCannotBe(t *testing.T) {
	for name, env := range map[string]map[string]string{
		"TAGALONG_LISTEN":          {"TAGALONG_LISTEN": "here"},
		"TAGALONG_ADDRESS":         {"TAGALONG_ADDRESS": "ftp://shop.example/path"},
		"TAGALONG_CERTIFICATE_KEY": {"TAGALONG_CERTIFICATE": "x.pem"},
		"TAGALONG_BEHIND_TLS":      {"TAGALONG_BEHIND_TLS": "perhaps"},
	} {
		env["TAGALONG_DATA"] = t.TempDir()
		if code, _, log := tagalong(t, env, "endpoints"); code == 0 || !strings.Contains(log, name) {
			t.Errorf("%v: %d %q does not name %s", env, code, log, name)
		}
	}
}

// TestDeployedSettingsAreKnown: the containers set nothing the program doesn't
// read, but for what docker-compose.yml keeps to itself.
func TestDeployedSettingsAreKnown(t *testing.T) {
	known := map[string]bool{"TAGALONG_OWNER_PASSWORD": true, "TAGALONG_PUBLISH": true}
	for _, s := range settings {
		known[s.name] = true
	}
	for _, path := range []string{"docker-compose.yml", "deploy/env.example", "deploy/Dockerfile"} {
		text, err := os.ReadFile(filepath.Join("..", "..", path))
		must(t, err)
		for _, name := range regexp.MustCompile(`TAGALONG_[A-Z_]+`).FindAllString(string(text), -1) {
			if !known[name] {
				t.Errorf("%s sets %s, which nothing reads", path, name)
			}
		}
	}
}

func TestServerKey(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, keyFile)
	_, err := loadKeys(dir)
	must(t, err)
	first, err := os.ReadFile(path)
	must(t, err)
	info, err := os.Stat(path)
	must(t, err)
	if info.Mode().Perm() != 0o600 {
		t.Errorf("others may read the key: %v", info.Mode())
	}
	if _, err = loadKeys(dir); err != nil {
		t.Errorf("read again: %v", err)
	}
	if again, err := os.ReadFile(path); err != nil || !bytes.Equal(first, again) {
		t.Errorf("reading changed the key (%v)", err)
	}
	older := base64.StdEncoding.EncodeToString(bytes.Repeat([]byte{9}, 32))
	must(t, os.WriteFile(path, append(first, older+"\n"...), 0o600))
	if _, err = loadKeys(dir); err != nil {
		t.Errorf("with an older key: %v", err)
	}
	for name, text := range map[string]string{"empty": "\n", "short": "AAAA\n", "no base64": "!!!\n"} {
		must(t, os.WriteFile(path, []byte(text), 0o600))
		if _, err := loadKeys(dir); err == nil || !strings.Contains(err.Error(), "Put its backup back") {
			t.Errorf("%s: %v", name, err)
		}
	}
	must(t, os.WriteFile(path, first, 0o644))
	must(t, os.Chmod(path, 0o644))
	if _, err := loadKeys(dir); err == nil || !strings.Contains(err.Error(), "chmod 600") {
		t.Errorf("a key others may read: %v", err)
	}
}
