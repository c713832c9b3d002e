package postgres_test

import "testing"

func (f *fixture) verified(t testing.TB) {}
