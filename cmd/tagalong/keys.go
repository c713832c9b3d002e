package main

import (
	"crypto/rand"
	"encoding/base64"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"tagalong/internal/sign"
)

// keyFile holds the server's keys, one a line in base64, the current one first;
// older ones still check the PINs set under them. It stands outside the
// database: whoever copies the database alone can't try PINs.
const keyFile = "server.key"

// loadKeys reads the key file of the data folder, and makes it where there is
// none yet.
func loadKeys(dir string) (sign.Keyring, error) {
	path := filepath.Join(dir, keyFile)
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return makeKeys(dir, path)
	}
	if err != nil {
		return sign.Keyring{}, fmt.Errorf("read the server key: %w", err)
	}
	if info, err := os.Stat(path); err == nil && info.Mode().Perm()&0o077 != 0 {
		return sign.Keyring{}, fmt.Errorf("others may read the server key %s. Nothing was started. Run: chmod 600 %s", path, path)
	}
	return parseKeys(path, string(text))
}

func makeKeys(dir, path string) (sign.Keyring, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return sign.Keyring{}, fmt.Errorf("make the data folder: %w", err)
	}
	var secret [sign.KeyBytes]byte
	if _, err := rand.Read(secret[:]); err != nil {
		return sign.Keyring{}, fmt.Errorf("make the server key: %w", err)
	}
	text := base64.StdEncoding.EncodeToString(secret[:]) + "\n"
	// O_EXCL: of two servers starting together one makes it and the other reads it.
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return loadKeys(dir)
	}
	if err != nil {
		return sign.Keyring{}, fmt.Errorf("make the server key: %w", err)
	}
	_, err = f.WriteString(text)
	if err = errors.Join(err, f.Sync(), f.Close()); err != nil {
		return sign.Keyring{}, fmt.Errorf("write the server key: %w", err)
	}
	return parseKeys(path, text)
}

func parseKeys(path, text string) (sign.Keyring, error) {
	var keys []sign.Key
	for i, line := range strings.Fields(text) {
		secret, err := base64.StdEncoding.DecodeString(line)
		if err != nil {
			return sign.Keyring{}, fmt.Errorf("the server key %s is damaged in line %d. Put its backup back", path, i+1)
		}
		key, err := sign.NewKey(secret)
		if err != nil {
			return sign.Keyring{}, fmt.Errorf("the server key %s is damaged in line %d: %w. Put its backup back", path, i+1, err)
		}
		keys = append(keys, key)
	}
	if len(keys) == 0 {
		return sign.Keyring{}, fmt.Errorf("the server key %s is empty. Put its backup back", path)
	}
	return sign.NewKeyring(keys[0], keys[1:]...), nil
}
