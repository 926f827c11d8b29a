package profile

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"

	"github.com/pelletier/go-toml/v2"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill/tomldoc"
)

// Keys are the keys of a computer's keyboard that stand for panels: the name of
// a key, by its place on the board, for each panel of a layout in order.
type Keys map[string][]string // by layout

// keyFile is one key in the file.
type keyFile struct {
	Layout string `toml:"layout"`
	Panel  string `toml:"panel"`
	Key    string `toml:"key"`
}

type keysFile struct {
	Key []keyFile `toml:"key"`
}

// DefaultKeys gives the keys for layouts that nobody has changed: on one pad R
// over F for the left corners, U over J for the right ones and the space bar for
// the centre; for a second pad a block of the same shape on the number pad.
func DefaultKeys() Keys {
	one := []string{"R", "F", "Space", "U", "J"}
	two := []string{"Numpad7", "Numpad4", "Numpad0", "Numpad9", "Numpad6"}
	return Keys{pad.Single.Name: one, pad.Double.Name: append(append([]string{}, one...), two...)}
}

// Check tells what is wrong with k, or nil: each panel of each layout has a key,
// and no key has two panels.
func (k Keys) Check() error {
	for name, keys := range k {
		l, ok := pad.ByName(name)
		if !ok {
			return fmt.Errorf("there is no layout %q", name)
		}
		if len(keys) != len(l.Panels) {
			return fmt.Errorf("layout %s has %d panels, %d keys are given", name, len(l.Panels), len(keys))
		}
		of := map[string]string{}
		for p, key := range keys {
			id := l.Panels[p].ID
			if key == "" {
				return fmt.Errorf("panel %s of layout %s has no key", id, name)
			}
			if msg := badName(key); msg != "" {
				return fmt.Errorf("the key of panel %s %s", id, msg)
			}
			if other, ok := of[key]; ok {
				return fmt.Errorf("key %s stands for %s and for %s", key, other, id)
			}
			of[key] = id
		}
	}
	return nil
}

// Panel gives the panel that a key stands for on a layout.
func (k Keys) Panel(layout, key string) (pad.Panel, bool) {
	for p, name := range k[layout] {
		if name == key {
			return pad.Panel(p), true
		}
	}
	return pad.NoPanel, false
}

// ParseKeys reads keys; what the file leaves out is at its default. Faults are *pad.BadInput.
func ParseKeys(file string, text []byte) (Keys, error) {
	var f keysFile
	doc, err := tomldoc.Decode(file, text, &f)
	if err != nil {
		return nil, err
	}
	k := DefaultKeys()
	for i, e := range f.Key {
		at := "key." + strconv.Itoa(i)
		l, ok := pad.ByName(e.Layout)
		if !ok {
			return nil, doc.Errorf(at+".layout", "there is no layout %q; the built-in ones are single and double", e.Layout)
		}
		p, ok := l.Lookup(e.Panel)
		if !ok {
			return nil, doc.Errorf(at+".panel", "%q is not a panel of the layout %s", e.Panel, l.Name)
		}
		if msg := badName(e.Key); msg != "" {
			return nil, doc.Errorf(at+".key", "%s", msg)
		}
		k[l.Name][p] = e.Key
	}
	for i, e := range f.Key { // one key for two panels: said at the first line that has it
		if p, _ := k.Panel(e.Layout, e.Key); slices.Contains(k[e.Layout][p+1:], e.Key) {
			return nil, doc.Errorf("key."+strconv.Itoa(i)+".key", "the key %s stands for two panels of the layout %s", e.Key, e.Layout)
		}
	}
	return k, k.Check()
}

// Text gives the keys as a file; ParseKeys of it gives equal ones.
func (k Keys) Text() ([]byte, error) {
	if err := k.Check(); err != nil {
		return nil, err
	}
	var f keysFile
	for _, l := range []*pad.Layout{pad.Single, pad.Double} {
		for p, key := range k[l.Name] {
			f.Key = append(f.Key, keyFile{l.Name, l.Panels[p].ID, key})
		}
	}
	return toml.Marshal(&f)
}

// KeysFile gives the path of the keys.
func KeysFile() string { return filepath.Join(Dir(), "keys.toml") }

// LoadKeys reads the keys; where there is no file they are the default ones.
func LoadKeys() (Keys, error) {
	file := KeysFile()
	if _, err := os.Stat(file); errors.Is(err, fs.ErrNotExist) {
		return DefaultKeys(), nil
	}
	text, err := tomldoc.ReadFile(file, MaxBytes)
	if err != nil {
		return nil, err
	}
	return ParseKeys(file, text)
}

// SaveKeys writes the keys, whole or not at all.
func SaveKeys(k Keys) error {
	text, err := k.Text()
	if err != nil {
		return err
	}
	return write(KeysFile(), text)
}
