package filename_test

import (
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/trainer/filename"
)

func TestOf(t *testing.T) {
	for name, want := range map[string]string{
		"attic": "attic", "  The  Attic! ": "the-attic", "../../etc/passwd": "etc-passwd", "Ä A": "a", "木": "none", "": "none", "---": "none",
		strings.Repeat("x", 99): strings.Repeat("x", 48), strings.Repeat("x", 47) + " y": strings.Repeat("x", 47),
	} {
		if got := filename.Of(name, "none"); got != want {
			t.Errorf("%q gives %q, want %q", name, got, want)
		}
	}
}

var good = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// Whatever a thing is called, its file has a name that is a name everywhere, and the same again.
func TestOfAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.String().Draw(t, "name")
		got := filename.Of(name, "none")
		if !good.MatchString(got) || len(got) > filename.MaxBytes || filename.Of(got, "") != got {
			t.Fatalf("%q gives %q", name, got)
		}
	})
}
