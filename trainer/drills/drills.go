// Package drills is the library of drills that the program brings along, and
// the stream that a drill can be wrapped in. Each drill is a drill file whose
// first line is a comment, "# family: what it is for".
package drills

import (
	"embed"
	"fmt"
	"path"
	"slices"
	"strings"
	"sync"

	"heeltoe/judge/drill"
)

//go:embed data/*.toml
var data embed.FS

// Entry is one drill of the library.
type Entry struct {
	ID     string `json:"id"` // the file's name without .toml
	Family string `json:"family"`
	Help   string `json:"help"` // what it is for, one line
	Name   string `json:"name"`
	Layout string `json:"layout"`
	Steps  string `json:"steps"`
}

var library = sync.OnceValue(func() []Entry {
	files, err := data.ReadDir("data")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	entries := make([]Entry, 0, len(files))
	for _, f := range files {
		id := strings.TrimSuffix(f.Name(), ".toml")
		text, err := data.ReadFile(path.Join("data", f.Name()))
		if err != nil {
			panic(err)
		}
		d, err := drill.Parse(f.Name(), text)
		if err != nil {
			panic(err) // a test reads them all
		}
		first, _, _ := strings.Cut(strings.TrimPrefix(string(text), "# "), "\n")
		family, help, _ := strings.Cut(first, ": ")
		entries = append(entries, Entry{ID: id, Family: family, Help: help, Name: d.Name, Layout: d.Spec.Layout, Steps: d.Steps})
	}
	slices.SortFunc(entries, func(a, b Entry) int { return strings.Compare(a.ID, b.ID) }) // the files' own order has the suffix in it
	return entries
})

// List gives the library in order of id. The slice is the caller's.
func List() []Entry { return append([]Entry(nil), library()...) }

// Load gives the drill called id.
func Load(id string) (*drill.Drill, error) {
	text, err := Text(id)
	if err != nil {
		return nil, err
	}
	return drill.Parse(id+".toml", text)
}

// Text gives the drill file of the drill called id.
func Text(id string) ([]byte, error) {
	for _, e := range library() {
		if e.ID == id {
			return data.ReadFile(path.Join("data", id+".toml"))
		}
	}
	return nil, fmt.Errorf("there is no drill %q in the library", id)
}
