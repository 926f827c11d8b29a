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
		return nil, &pad.BadInput{File: file, Msg: "cannot be opened: " + reason(err)}
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, limit+1))
	if err != nil {
		return nil, &pad.BadInput{File: file, Msg: "cannot be read: " + reason(err)}
	}
	if int64(len(text)) > limit {
		return nil, &pad.BadInput{File: file, Msg: fmt.Sprintf("is larger than %d bytes, the most that is read", limit)}
	}
	return text, nil
}

// reason gives what the system said, without the path that it said it of.
func reason(err error) string {
	var p *os.PathError
	if errors.As(err, &p) {
		return p.Err.Error()
	}
	return err.Error()
}

// Decode reads text into dst, which is a pointer to a struct with toml tags.
// Unknown keys, wrong types and broken TOML give a *pad.BadInput that names file.
func Decode(file string, text []byte, dst any) (*Doc, error) {
	d := &Doc{File: file, text: text}
	dec := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields()
	if err := dec.Decode(dst); err != nil {
		return nil, d.syntax(err)
	}
	d.index()
	return d, nil
}

func (d *Doc) syntax(err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		e := strict.Errors[0]
		line, col := e.Position()
		return &pad.BadInput{File: d.File, Line: line, Col: col,
			Msg: fmt.Sprintf("unknown key %q", strings.Join(e.Key(), "."))}
	}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		line, col := de.Position()
		msg := strings.TrimPrefix(de.Error(), "toml: ")
		if rest, ok := strings.CutPrefix(msg, "cannot decode TOML "); ok && len(de.Key()) > 0 {
			kind, _, _ := strings.Cut(rest, " ")
			msg = fmt.Sprintf("%q cannot be a TOML %s", strings.Join(de.Key(), "."), kind)
		}
		return &pad.BadInput{File: d.File, Line: line, Col: col, Msg: msg}
	}
	return &pad.BadInput{File: d.File, Msg: strings.TrimPrefix(err.Error(), "toml: ")}
}

// index notes where each value stands. The text has been decoded before, so it
// parses. Tables in an array are numbered from 0: "panel.2.bit".
func (d *Doc) index() {
	d.at = make(map[string]place)
	var p unstable.Parser
	p.Reset(d.text)
	prefix := ""
	count := make(map[string]int)
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table:
			prefix = keyOf(e) + "."
		case unstable.ArrayTable:
			k := keyOf(e)
			prefix = k + "." + strconv.Itoa(count[k]) + "."
			d.at[strings.TrimSuffix(prefix, ".")] = place{offset: startOf(e), inside: -1}
			count[k]++
		case unstable.KeyValue:
			d.value(prefix+keyOf(e), e.Value())
		}
	}
}

func keyOf(n *unstable.Node) string {
	var parts []string
	for it := n.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
	}
	return strings.Join(parts, ".")
}

func startOf(n *unstable.Node) int {
	if it := n.Key(); it.Next() {
		return int(it.Node().Raw.Offset)
	}
	return int(n.Raw.Offset)
}

func (d *Doc) value(key string, v *unstable.Node) {
	switch v.Kind {
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			d.value(key+"."+keyOf(it.Node()), it.Node().Value())
		}
		return
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); i++ {
			d.value(key+"."+strconv.Itoa(i), it.Node())
		}
		return
	}
	pl := place{offset: int(v.Raw.Offset), inside: -1}
	if v.Kind == unstable.String {
		raw := d.text[v.Raw.Offset : v.Raw.Offset+v.Raw.Length]
		if i := bytes.Index(raw, v.Data); i >= 0 && len(v.Data) > 0 {
			pl.inside = pl.offset + i
		}
	}
	d.at[key] = pl
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
