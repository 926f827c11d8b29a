package pad

import (
	"errors"
	"fmt"
	"io/fs"
)

// BadInput is what every parser answers to a file it cannot take: where the
// fault is and what to do about it. Line and Col count from 1; Col counts bytes.
// A Line of 0 means the file as a whole.
type BadInput struct {
	File      string
	Line, Col int
	Msg       string
}

func (e *BadInput) Error() string {
	line, col := max(e.Line, 1), max(e.Col, 1)
	return fmt.Sprintf("%s:%d:%d: %s", e.File, line, col, e.Msg)
}

// IsBadInput tells whether err is, or wraps, a BadInput.
func IsBadInput(err error) bool {
	var b *BadInput
	return errors.As(err, &b)
}

// LineCol gives the line and the column, both from 1, of the byte at offset in
// text. An offset past the end is taken as the end.
func LineCol(text []byte, offset int) (line, col int) {
	offset = min(max(offset, 0), len(text))
	line, col = 1, 1
	for _, c := range text[:offset] {
		if c == '\n' {
			line++
			col = 1
		} else {
			col++
		}
	}
	return line, col
}

// FileFault makes a BadInput of what the system said of a file: what is
// "opened" or "read".
func FileFault(file, what string, err error) *BadInput {
	var p *fs.PathError
	if errors.As(err, &p) {
		err = p.Err
	}
	return &BadInput{File: file, Msg: "cannot be " + what + ": " + err.Error()}
}
