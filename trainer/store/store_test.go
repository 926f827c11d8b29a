package store_test

import (
	"path/filepath"
	"testing"
	"time"

	"heeltoe/trainer/store"
)

func TestNewRunPath(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", "/data")
	at := time.Date(2026, 3, 1, 23, 30, 5, 42e6, time.FixedZone("", 3600))
	want := filepath.FromSlash("/data/heeltoe/runs/2026/20260301T223005Z-042-corner-hook-2.jsonl")
	if got := store.NewRunPath(store.Dir(), "Corner hook, 2!", at); got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestSlug(t *testing.T) {
	for name, want := range map[string]string{"A  b": "a-b", "../..": "drill", "äö": "drill", "x/y": "x-y"} {
		if got := store.Slug(name); got != want {
			t.Errorf("%q gives %q, want %q", name, got, want)
		}
	}
}
