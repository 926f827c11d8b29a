// Package tomldoc reads TOML files strictly and remembers where each value
// stands, so that an error can name the line and the column of what is wrong
// even where the TOML itself is sound. All of the project's TOML goes through it.
package tomldoc

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"heeltoe/footing/pad"
)

// MaxBytes is the largest TOML file that is read.
const MaxBytes = 16 << 20

// Doc is a TOML text with the place of each of its values.
type Doc struct {
	File string
	text []byte
	at   map[string]place
}

type place struct {
	offset int // of the value's first byte
	inside int // of a string's first character, or -1 where escapes hide it
}

// ReadFile reads at most limit bytes of the named file. A file that is missing,
// unreadable or larger gives a *pad.BadInput.
func ReadFile(file string, limit int64) ([]byte, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, pad.FileFault(file, "opened", err)
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err != nil {
		return nil, pad.FileFault(file, "read", err)
	}
	if int64(len(text)) > limit {
		return nil, &pad.BadInput{File: file, Msg: fmt.Sprintf("is larger than %d bytes, the most that is read", limit)}
	}
	return text, nil
}

// maxWord is the longest run of bytes that are not blank, or |, which steps take for a blank. Keys of a million dotted
// parts would take the TOML library seconds.
const maxWord = 4 << 10

// longWord gives where the first word longer than maxWord begins, or -1.
func longWord(text []byte) int {
	start := 0
	for i, c := range text {
		if c == ' ' || c == '\t' || c == '\n' || c == '\r' || c == '|' {
			start = i + 1
		} else if i-start >= maxWord {
			return start
		}
	}
	return -1
}

// Decode reads text into dst, which is a pointer to a struct with toml tags.
// Unknown keys, wrong types and broken TOML give a *pad.BadInput that names file.
func Decode(file string, text []byte, dst any) (*Doc, error) {
	text = bytes.TrimPrefix(text, []byte("\ufeff")) // a byte order mark, as some editors write
	d := &Doc{File: file, text: text, at: make(map[string]place)}
	if at := longWord(text); at >= 0 {
		e := &pad.BadInput{File: file, Msg: fmt.Sprintf("a word of more than %d bytes stands here; no key and no value has one", maxWord)}
		e.Line, e.Col = pad.LineCol(text, at)
		return nil, e
	}
	if err := d.index(reflect.TypeOf(dst)); err != nil {
		return nil, err
	}
	if err := toml.Unmarshal(text, dst); err != nil {
		return nil, d.syntax(err)
	}
	return d, nil
}

// unknown gives how many of parts it takes to name what t has no place for, or
// -1; single tells that they name a single value, which has no parts. It is looked for before decoding, since the decoder takes time that grows
// with the square of the number of keys in a table, and takes keys that differ
// from known ones in letter case.
func unknown(parts []string, t reflect.Type) (n int, single bool) {
	for i, part := range parts {
		for t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		switch t.Kind() {
		case reflect.Slice, reflect.Array, reflect.Map:
			t = t.Elem()
			continue
		case reflect.Struct:
		case reflect.Interface:
			return -1, false
		default:
			return i, true
		}
		var next reflect.Type
		for _, f := range reflect.VisibleFields(t) {
			if name, _, _ := strings.Cut(f.Tag.Get("toml"), ","); name == part {
				next = f.Type
			}
		}
		if next == nil {
			return i + 1, false
		}
		t = next
	}
	return -1, false
}

func (d *Doc) syntax(err error) error {
	var de *toml.DecodeError
	if errors.As(err, &de) {
		line, col := de.Position()
		msg := strings.TrimPrefix(de.Error(), "toml: ")
		if rest, ok := strings.CutPrefix(msg, "cannot decode TOML "); ok && len(de.Key()) > 0 {
			kind, _, _ := strings.Cut(rest, " into ")
			msg = fmt.Sprintf("%q cannot be a TOML %s", cut(strings.Join(de.Key(), ".")), kind)
		}
		return &pad.BadInput{File: d.File, Line: line, Col: col, Msg: cut(msg)}
	}
	return &pad.BadInput{File: d.File, Msg: cut(strings.TrimPrefix(err.Error(), "toml: "))}
}

// cut shortens what a file makes long, so that a message stays readable.
func cut(s string) string {
	const most = 120
	if len(s) <= most {
		return s
	}
	return strings.ToValidUTF8(s[:most], "") + "…"
}

// index notes where each value stands and refuses the first key that t, the
// type decoded into, does not have. It stops where the text is broken, which the
// decoder then reports. Tables in an array are numbered from 0: "panel.2.bit".
func (d *Doc) index(t reflect.Type) error {
	var p unstable.Parser
	p.Reset(d.text)
	var prefix []string
	count := make(map[string]int)
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table:
			prefix = keyOf(nil, e)
			if err := d.check(prefix, startOf(e), t); err != nil {
				return err
			}
		case unstable.ArrayTable:
			prefix = keyOf(nil, e)
			if err := d.check(prefix, startOf(e), t); err != nil {
				return err
			}
			k := strings.Join(prefix, ".")
			prefix = append(prefix, strconv.Itoa(count[k]))
			d.at[strings.Join(prefix, ".")] = place{offset: startOf(e), inside: -1}
			count[k]++
		case unstable.KeyValue:
			if err := d.value(keyOf(prefix, e), startOf(e), e.Value(), t); err != nil {
				return err
			}
		}
	}
	return nil
}

func (d *Doc) check(parts []string, at int, t reflect.Type) error {
	n, single := unknown(parts, t)
	if n < 0 {
		return nil
	}
	msg := "unknown key %q"
	if single {
		msg = "%q takes one value, not a table or an array"
	}
	line, col := pad.LineCol(d.text, at)
	return &pad.BadInput{File: d.File, Line: line, Col: col, Msg: fmt.Sprintf(msg, cut(strings.Join(parts[:n], ".")))}
}

// keyOf gives prefix and the parts of n's key.
func keyOf(prefix []string, n *unstable.Node) []string {
	parts := slices.Clip(prefix)
	for it := n.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
	}
	return parts
}

func startOf(n *unstable.Node) int {
	if it := n.Key(); it.Next() {
		return int(it.Node().Raw.Offset)
	}
	return int(n.Raw.Offset)
}

// value notes the value v of the key at offset at.
func (d *Doc) value(parts []string, at int, v *unstable.Node, t reflect.Type) error {
	if err := d.check(parts, at, t); err != nil {
		return err
	}
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			if err := d.value(keyOf(parts, it.Node()), startOf(it.Node()), it.Node().Value(), t); err != nil {
				return err
			}
		}
		return nil
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); i++ {
			if err := d.value(append(slices.Clip(parts), strconv.Itoa(i)), at, it.Node(), t); err != nil {
				return err
			}
		}
		return nil
	}
	pl := place{offset: int(v.Raw.Offset), inside: -1}
	if v.Kind == unstable.String {
		raw := d.text[v.Raw.Offset : v.Raw.Offset+v.Raw.Length]
		if i := bytes.Index(raw, v.Data); i >= 0 && len(v.Data) > 0 {
			pl.inside = pl.offset + i
		}
	}
	d.at[strings.Join(parts, ".")] = pl
	return nil
}

// Has tells whether the file gives key a value.
func (d *Doc) Has(key string) bool { _, ok := d.at[key]; return ok }

// Errorf gives a *pad.BadInput at the value of key, or at the file's first line
// where the file does not have it.
func (d *Doc) Errorf(key, format string, args ...any) error {
	return d.ErrorAt(key, -1, format, args...)
}

// ErrorAt is Errorf for a place inside a string: offset counts the bytes from
// the string's first. Where escapes make that place uncertain the string's start is named.
func (d *Doc) ErrorAt(key string, offset int, format string, args ...any) error {
	e := &pad.BadInput{File: d.File, Msg: fmt.Sprintf(format, args...)}
	if pl, ok := d.at[key]; ok {
		at := pl.offset
		if offset >= 0 && pl.inside >= 0 {
			at = pl.inside + offset
		}
		e.Line, e.Col = pad.LineCol(d.text, at)
	}
	return e
}
