package storetest

import (
	"testing"

	"heeltoe/trainer/store"
)

// Index opens the index of a data folder as it is, until the test ends.
func Index(t testing.TB, dir string) *store.Index {
	t.Helper()
	x, err := store.Open(t.Context(), dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { x.Close() })
	return x
}

// Open opens the index of a data folder and brings it up to date.
func Open(t testing.TB, dir string) *store.Index {
	t.Helper()
	x := Index(t, dir)
	if err := x.Sync(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	return x
}

// Runs gives the runs of an index that a filter lets through.
func Runs(t testing.TB, x *store.Index, f store.Filter) []store.Run {
	t.Helper()
	runs, err := x.Runs(t.Context(), f)
	if err != nil {
		t.Fatal(err)
	}
	return runs
}
