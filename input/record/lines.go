package record

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"

	"github.com/go-json-experiment/json/jsontext"

	"heeltoe/footing/pad"
)

// lineReader gives a file line by line, none longer than a limit, and makes
// the faults that name a place in it.
type lineReader struct {
	name string
	r    *bufio.Reader
	n    int // the line given last, from 1
	buf  []byte
}

// next gives the next line without its line feed; whole tells whether it had
// one. The line is good until the next call. After the last comes io.EOF.
func (l *lineReader) next(limit int) (line []byte, whole bool, err error) {
	l.buf = l.buf[:0]
	l.n++
	for {
		part, err := l.r.ReadSlice('\n')
		if len(l.buf)+len(part) > limit+1 {
			return nil, false, l.fault(limit, "the line is longer than %d bytes, the most that is read", limit)
		}
		switch {
		case err == nil && len(l.buf) == 0:
			return part[:len(part)-1], true, nil
		case err == nil:
			l.buf = append(l.buf, part...)
			return l.buf[:len(l.buf)-1], true, nil
		case errors.Is(err, bufio.ErrBufferFull):
			l.buf = append(l.buf, part...)
		case err == io.EOF:
			if l.buf = append(l.buf, part...); len(l.buf) == 0 {
				return nil, false, io.EOF
			}
			return l.buf, false, nil
		default:
			return nil, false, pad.FileFault(l.name, "read", err)
		}
	}
}

// fault makes a *pad.BadInput at byte at of the line given last.
func (l *lineReader) fault(at int, format string, args ...any) error {
	return &pad.BadInput{File: l.name, Line: max(l.n, 1), Col: at + 1, Msg: fmt.Sprintf(format, args...)}
}

// syntaxFault is JSON that does not parse, at byte at of the text.
type syntaxFault struct {
	at  int
	msg string
}

func (e *syntaxFault) Error() string { return e.msg }

// object walks JSON objects, one after the other.
type object struct {
	src  bytes.Reader
	dec  *jsontext.Decoder
	text []byte
	key  []byte
}

// walk calls member for each key of the object in text, with its value and the
// byte at which that begins. Broken JSON, a key that stands twice and anything
// after the object are a *syntaxFault.
func (o *object) walk(text []byte, member func(key string, val jsontext.Value, at int) error) error {
	o.src.Reset(text)
	if o.dec == nil {
		o.dec = jsontext.NewDecoder(&o.src)
	} else {
		o.dec.Reset(&o.src)
	}
	if k := o.dec.PeekKind(); k != '{' {
		if _, err := o.dec.ReadToken(); err != nil {
			return o.syntax(text, err)
		}
		return &syntaxFault{0, "this is not a JSON object"}
	}
	if _, err := o.dec.ReadToken(); err != nil {
		return o.syntax(text, err)
	}
	for o.dec.PeekKind() != '}' {
		name, err := o.dec.ReadValue()
		if err != nil {
			return o.syntax(text, err)
		}
		o.key, _ = jsontext.AppendUnquote(o.key[:0], name)
		val, err := o.dec.ReadValue()
		if err != nil {
			return o.syntax(text, err)
		}
		if err := member(keyName(o.key), val, int(o.dec.InputOffset())-len(val)); err != nil {
			return err
		}
	}
	if _, err := o.dec.ReadToken(); err != nil {
		return o.syntax(text, err)
	}
	end := int(o.dec.InputOffset())
	for ; end < len(text); end++ {
		if c := text[end]; c != ' ' && c != '\t' && c != '\r' && c != '\n' {
			return &syntaxFault{end, "something follows the object"}
		}
	}
	return nil
}

// keyName gives the key without allocating where it is one that edges have.
func keyName(b []byte) string {
	switch string(b) {
	case "t":
		return "t"
	case "panel":
		return "panel"
	case "down":
		return "down"
	}
	return string(b)
}

func (o *object) syntax(text []byte, err error) error {
	var s *jsontext.SyntacticError
	at, msg := len(text), "the JSON breaks off"
	switch {
	case errors.Is(err, io.ErrUnexpectedEOF), err == io.EOF:
	case errors.As(err, &s):
		at = int(s.ByteOffset)
		if s.Err != nil {
			msg = "broken JSON: " + s.Err.Error()
		}
	default:
		msg = err.Error()
	}
	return &syntaxFault{min(at, len(text)), msg}
}

// unquote gives the text of a JSON string; it is good until the next call.
func (o *object) unquote(val jsontext.Value) []byte {
	o.text, _ = jsontext.AppendUnquote(o.text[:0], val)
	return o.text
}

// integer gives a JSON number written as a whole number within lo and hi.
func integer(val jsontext.Value, lo, hi pad.Time) (pad.Time, bool) {
	if val.Kind() != '0' || len(val) > 20 {
		return 0, false
	}
	v, err := strconv.ParseInt(string(val), 10, 64)
	return pad.Time(v), err == nil && lo <= pad.Time(v) && pad.Time(v) <= hi
}

// objectWriter appends the members of a JSON object in the order in which they come.
type objectWriter struct {
	b   []byte
	err error
}

func (o *objectWriter) raw(key string, val []byte) {
	if o.b[len(o.b)-1] != '{' {
		o.b = append(o.b, ',')
	}
	o.quote(key)
	o.b = append(o.b, ':')
	o.b = append(o.b, val...)
}

func (o *objectWriter) quote(s string) {
	b, err := jsontext.AppendQuote(o.b, s)
	o.b, o.err = b, errors.Join(o.err, err)
}

func (o *objectWriter) str(key, val string) {
	o.raw(key, nil)
	o.quote(val)
}

func (o *objectWriter) optional(key, val string) {
	if val != "" {
		o.str(key, val)
	}
}

func (o *objectWriter) num(key string, val int64) {
	o.raw(key, strconv.AppendInt(nil, val, 10))
}

func (o *objectWriter) extra(members []Member) {
	for _, m := range members {
		o.raw(m.Key, m.Value)
	}
}
