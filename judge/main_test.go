package judge_test

import (
	"flag"
	"os"
	"testing"
)

// TestMain makes the property tests try 20,000 cases each instead of rapid's
// 100, since faults of the tie order and of pruning show in few of them.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.checks", "20000"); err != nil {
		panic(err)
	}
	flag.Parse()
	os.Exit(m.Run())
}
