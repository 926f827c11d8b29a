package main

import (
	"heeltoe/trainer/live"
	"heeltoe/trainer/store"
)

// recover closes the runs that were cut off since the last start, and says what
// it found.
func (a *app) recover() {
	found, err := live.Recover(store.RunsDir(store.Dir()))
	if err != nil {
		a.warn("runs that were cut off cannot be looked for: %v", err)
	}
	for i := range found {
		a.say("%s", &found[i])
	}
}
