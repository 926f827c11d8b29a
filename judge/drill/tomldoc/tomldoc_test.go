package tomldoc_test

import (
	"errors"
	"strings"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill/tomldoc"
)

type file struct {
	Name  string  `toml:"name"`
	Size  float64 `toml:"size"`
	Parts []struct {
		ID string `toml:"id"`
		At int64  `toml:"at"`
	} `toml:"part"`
}

// What TOML itself refuses, and what the struct does, is named by its place.
func TestFaults(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"name = \"a\"\nsize = \n", "f:2:"},
		{"name = \"a\"\nsiez = 1\n", "f:2:1: "},
		{"name = 5\n", "f:1:8: "},
		{"name = \"a\"\nname = \"b\"\n", "f:2:"},
		{"[[part]]\nid = \"x\"\nat = 1.5\n", "f:3:6: "},
		{"[[part]]\nid = \"x\"\nfoo = 1\n", "f:3:1: "},
		{"name = \"" + strings.Repeat("x", 5000) + "\"\n", "f:1:8: a word of more than 4096 bytes"},
		{strings.Repeat("a.", 5000) + "b = 1\n", "f:1:1: a word of more than 4096 bytes"},
	} {
		_, err := tomldoc.Decode("f", []byte(c.text), &file{})
		var b *pad.BadInput
		if !errors.As(err, &b) || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%.40q: got %v, want %s…", c.text, err, c.want)
		}
	}
}

// A value's place is known, in a table of an array and inside a string too.
func TestPlaces(t *testing.T) {
	text := "name = \"one two\"\nsize = 3\n[[part]]\nid = \"x\"\n[[part]]\nid = 'yz'\nat = 7\n"
	var f file
	d, err := tomldoc.Decode("f", []byte(text), &f)
	if err != nil {
		t.Fatal(err)
	}
	if f.Name != "one two" || f.Size != 3 || len(f.Parts) != 2 || f.Parts[1].At != 7 {
		t.Errorf("read as %+v", f)
	}
	for _, c := range []struct {
		err  error
		want string
	}{
		{d.Errorf("size", "m"), "f:2:8: m"},
		{d.Errorf("part.1.at", "m"), "f:7:6: m"},
		{d.ErrorAt("name", 4, "m"), "f:1:13: m"},
		{d.ErrorAt("part.1.id", 1, "m"), "f:6:8: m"},
		{d.Errorf("none", "m"), "f:1:1: m"},
	} {
		if c.err.Error() != c.want {
			t.Errorf("got %v, want %s", c.err, c.want)
		}
	}
	if !d.Has("size") || d.Has("none") {
		t.Error("what the file has is not known")
	}
	// | parts words, as it parts the slots of a drill.
	if _, err := tomldoc.Decode("f", []byte("name = \""+strings.Repeat("c|", 5000)+"\""), &f); err != nil {
		t.Error(err)
	}
}
