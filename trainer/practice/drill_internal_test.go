package practice

import "testing"

func TestEditDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int
	}{{"", "", 0}, {"", "abc", 3}, {"abc", "", 3}, {"kitten", "sitting", 3}, {"flaw", "lawn", 2}, {"same", "same", 0}} { // textbook examples, from memory
		if got := editDistance(c.a, c.b); got != c.want {
			t.Errorf("from %q to %q: %d, want %d", c.a, c.b, got, c.want)
		}
	}
}
