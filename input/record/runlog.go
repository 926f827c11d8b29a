package record

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"time"

	"github.com/go-json-experiment/json/jsontext"

	"heeltoe/footing/pad"
	"heeltoe/judge/drill"
)

// Limits of a run log, so that a damaged or foreign file is refused at once.
const (
	MaxHeaderBytes = 32 << 20 // of the header line: steps can be long
	MaxEdgeBytes   = 4 << 10  // of every other line
	MaxMoment      = pad.Time(9e15)
)

// LogVersion is the version of the run log that is read and written.
const LogVersion = 1

// Member is a key of a header that this version does not know, kept as it was.
type Member struct {
	Key   string
	Value jsontext.Value
}

// Header is the first line of a run log.
type Header struct {
	Layout  string
	Lead    pad.Time // moment of the first slot of the first rep
	Drill   drill.Spec
	Started time.Time // zero where not given
	Pad     string
	Player  string
	Bar     string // none, one or both hands on the bar
	ShoeMM  int64  // outsole length in mm, 0 where not given
	Windows *drill.Windows
	Shift   pad.Time // subtracted from every press before matching
	// Debounce merges a press with the one before it on its panel where it
	// comes within this time of that one's release; 0 merges nothing.
	Debounce pad.Time

	DrillExtra []Member // unknown keys within the drill
	Extra      []Member // unknown keys
}

// Bounds gives the header's windows, or the default ones.
func (h *Header) Bounds() drill.Windows {
	if h.Windows != nil {
		return *h.Windows
	}
	return drill.DefaultWindows
}

// Log is a whole run log.
type Log struct {
	Header   Header
	Drill    *drill.Drill
	Layout   *pad.Layout
	Edges    []pad.Edge
	Warnings []string // each with file, line and column
}

// ReadLog reads the named run log. Faults are *pad.BadInput.
func ReadLog(file string) (*Log, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, pad.FileFault(file, "opened", err)
	}
	defer f.Close()
	return ReadLogFrom(file, f)
}

// ReadHead reads the header of the named run log, and the drill that stands there.
// Faults are *pad.BadInput.
func ReadHead(file string) (*Header, *drill.Drill, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, nil, pad.FileFault(file, "opened", err)
	}
	defer f.Close()
	lr, err := NewLogReader(file, f)
	if err != nil {
		return nil, nil, err
	}
	return &lr.Header, lr.Drill, nil
}

// ReadLogFrom reads a run log from r; name stands for it in messages.
func ReadLogFrom(name string, r io.Reader) (*Log, error) {
	lr, err := NewLogReader(name, r)
	if err != nil {
		return nil, err
	}
	l := &Log{Header: lr.Header, Drill: lr.Drill, Layout: lr.Drill.Layout}
	for {
		e, err := lr.Next()
		if err == io.EOF {
			l.Warnings = lr.Warnings
			return l, nil
		}
		if err != nil {
			return nil, err
		}
		l.Edges = append(l.Edges, e)
	}
}

// LogReader reads a run log edge by edge. It is an input.Script.
type LogReader struct {
	Header   Header
	Drill    *drill.Drill
	Warnings []string // found so far, each with file, line and column

	lines lineReader
	obj   object
	last  pad.Time
	began bool
	down  pad.PanelSet
	known pad.PanelSet // panels whose state is known
}

// NewLogReader reads the header of a run log.
func NewLogReader(name string, r io.Reader) (*LogReader, error) {
	lr := &LogReader{lines: lineReader{name: name, r: bufio.NewReaderSize(r, 64<<10)}}
	line, _, err := lr.lines.next(MaxHeaderBytes)
	if err == io.EOF {
		return nil, lr.lines.fault(0, "the file is empty; a run log begins with its header")
	}
	if err != nil {
		return nil, err
	}
	if err := lr.header(line); err != nil {
		return nil, err
	}
	lr.known = ^pad.PanelSet(0)
	return lr, nil
}

// Next gives the next edge, and io.EOF after the last.
func (lr *LogReader) Next() (pad.Edge, error) {
	line, whole, err := lr.lines.next(MaxEdgeBytes)
	if err != nil {
		return pad.Edge{}, err
	}
	e, err := lr.edge(line)
	if err != nil {
		var syn *syntaxFault
		if errors.As(err, &syn) {
			if !whole {
				lr.warn(syn.at, "the log is cut short here; what comes before is read")
				return pad.Edge{}, io.EOF
			}
			return pad.Edge{}, lr.lines.fault(syn.at, "%s", syn.msg)
		}
		return pad.Edge{}, err
	}
	return e, nil
}

func (lr *LogReader) warn(at int, format string, args ...any) {
	lr.Warnings = append(lr.Warnings, lr.lines.fault(at, format, args...).Error())
}

// edge reads one line after the header and checks it against what came before.
func (lr *LogReader) edge(line []byte) (pad.Edge, error) {
	e := pad.Edge{Panel: pad.NoPanel}
	var hasT, hasPanel, hasDown, hasGap, hasLost bool
	tAt, panelAt := 0, 0
	err := lr.obj.walk(line, func(key string, val jsontext.Value, at int) error {
		switch key {
		case "t":
			v, ok := integer(val, -MaxMoment, MaxMoment)
			if !ok {
				return lr.lines.fault(at, `"t" is not a whole number of microseconds`)
			}
			e.T, hasT, tAt = v, true, at
		case "panel":
			if val.Kind() != '"' {
				return lr.lines.fault(at, `"panel" is not a string`)
			}
			lr.obj.text = lr.obj.unquote(val)
			p, ok := lr.Drill.Layout.Lookup(string(lr.obj.text))
			if !ok {
				return lr.lines.fault(at, "%.40q is not a panel of the layout %s", lr.obj.text, lr.Drill.Layout.Name)
			}
			e.Panel, hasPanel, panelAt = p, true, at
		case "down", "gap":
			k := val.Kind()
			if k != 't' && k != 'f' {
				return lr.lines.fault(at, "%q is neither true nor false", key)
			}
			if key == "gap" {
				if k == 'f' {
					return lr.lines.fault(at, `"gap" can only be true`)
				}
				hasGap = true
			} else {
				hasDown = true
				if k == 't' {
					e.Kind = pad.Down
				}
			}
		case "lost":
			v, ok := integer(val, 0, 1<<32-1)
			if !ok {
				return lr.lines.fault(at, `"lost" is not a whole number from 0`)
			}
			e.Lost, hasLost = uint32(v), true
		default:
			return lr.lines.fault(at, "unknown key %.40q", key)
		}
		return nil
	})
	switch {
	case err != nil:
		return e, err
	case !hasT:
		return e, lr.lines.fault(0, `the key "t" is missing`)
	case hasGap && (hasPanel || hasDown):
		return e, lr.lines.fault(0, "a gap has no panel and no down")
	case !hasGap && !hasPanel:
		return e, lr.lines.fault(0, `the key "panel" is missing`)
	case !hasGap && !hasDown:
		return e, lr.lines.fault(0, `the key "down" is missing`)
	case !hasGap && hasLost:
		return e, lr.lines.fault(0, "only a gap has lost")
	case lr.began && e.T < lr.last:
		return e, lr.lines.fault(tAt, "time goes back, from %d to %d", lr.last, e.T)
	}
	lr.began, lr.last = true, e.T
	if hasGap {
		e.Kind = pad.Gap
		lr.down, lr.known = 0, 0
		return e, nil
	}
	id := lr.Drill.Layout.ID(e.Panel)
	switch {
	case e.Kind == pad.Down && lr.down.Has(e.Panel):
		return e, lr.lines.fault(panelAt, "panel %s goes down while it is down", id)
	case e.Kind == pad.Down:
		lr.down = lr.down.With(e.Panel)
	case !lr.down.Has(e.Panel) && lr.known.Has(e.Panel):
		lr.warn(panelAt, "panel %s goes up while it is up", id)
	default:
		lr.down = lr.down.Without(e.Panel)
	}
	lr.known = lr.known.With(e.Panel)
	return e, nil
}

// header reads the first line.
func (lr *LogReader) header(line []byte) error {
	h := &lr.Header
	seen := map[string]int{}
	var spec jsontext.Value
	version, isRun := pad.Time(-1), false
	bad := func(at int, key, format string, args ...any) error {
		return lr.lines.fault(at, "%q %s", key, fmt.Sprintf(format, args...))
	}
	text := func(key string, val jsontext.Value, at int, dst *string) error {
		if val.Kind() != '"' {
			return bad(at, key, "is not a string")
		}
		*dst = string(lr.obj.unquote(val))
		return nil
	}
	micros := func(key string, val jsontext.Value, at int, lo, hi pad.Time, dst *pad.Time) error {
		v, ok := integer(val, lo, hi)
		if !ok {
			return bad(at, key, "is not a whole number from %d to %d", lo, hi)
		}
		*dst = v
		return nil
	}
	err := lr.obj.walk(line, func(key string, val jsontext.Value, at int) error {
		seen[key] = at
		switch key {
		case "heeltoe":
			var kind string
			if err := text(key, val, at, &kind); err != nil {
				return err
			}
			if kind != "run" {
				return bad(at, key, "is %.40q; a run log has \"run\"", kind)
			}
			isRun = true
		case "version":
			return micros(key, val, at, 0, 1<<31, &version)
		case "layout":
			return text(key, val, at, &h.Layout)
		case "lead_us":
			return micros(key, val, at, 0, MaxMoment, &h.Lead)
		case "drill":
			if val.Kind() != '{' {
				return bad(at, key, "is not an object")
			}
			spec = val.Clone()
		case "started":
			var s string
			if err := text(key, val, at, &s); err != nil {
				return err
			}
			t, err := time.Parse(time.RFC3339, s)
			if err != nil {
				return bad(at, key, "is not a time as RFC 3339 writes it, such as 2006-01-02T15:04:05Z")
			}
			h.Started = t
		case "pad":
			return text(key, val, at, &h.Pad)
		case "player":
			return text(key, val, at, &h.Player)
		case "bar":
			return text(key, val, at, &h.Bar)
		case "shoe_mm":
			var v pad.Time
			if err := micros(key, val, at, 100, 500, &v); err != nil {
				return err
			}
			h.ShoeMM = int64(v)
		case "windows_us":
			w, err := lr.windows(val, at)
			if err != nil {
				return err
			}
			h.Windows = w
		case "shift_us":
			return micros(key, val, at, -10*pad.Second, 10*pad.Second, &h.Shift)
		case "debounce_us":
			return micros(key, val, at, 0, 10*pad.Second, &h.Debounce)
		default:
			h.Extra = append(h.Extra, Member{key, val.Clone()})
		}
		return nil
	})
	var syn *syntaxFault
	switch {
	case errors.As(err, &syn):
		return lr.lines.fault(syn.at, "%s", syn.msg)
	case err != nil:
		return err
	case !isRun:
		return lr.lines.fault(0, `this is not a run log: the first line lacks "heeltoe":"run"`)
	}
	for _, k := range []string{"version", "layout", "lead_us", "drill"} {
		if _, ok := seen[k]; !ok {
			return lr.lines.fault(0, "the header lacks %q", k)
		}
	}
	if version != LogVersion {
		return lr.lines.fault(seen["version"], "version %d of the run log is not known; this program reads version %d", version, LogVersion)
	}
	return lr.drill(spec, seen["drill"], seen["layout"])
}

// drill reads the header's drill, which stands at byte base of the line.
func (lr *LogReader) drill(val jsontext.Value, base, layoutAt int) error {
	h := &lr.Header
	s := &h.Drill
	at := map[string]int{}
	var inner object
	str := func(key string, val jsontext.Value, pos int, dst *string) error {
		if val.Kind() != '"' {
			return lr.lines.fault(base+pos, "%q is not a string", key)
		}
		*dst = string(inner.unquote(val))
		return nil
	}
	whole := func(key string, val jsontext.Value, pos int, dst *int64) error {
		v, ok := integer(val, -MaxMoment, MaxMoment)
		if !ok {
			return lr.lines.fault(base+pos, "%q is not a whole number", key)
		}
		*dst = int64(v)
		return nil
	}
	err := inner.walk(val, func(key string, val jsontext.Value, pos int) error {
		at[key] = base + pos
		switch key {
		case "name":
			return str(key, val, pos, &s.Name)
		case "layout":
			return str(key, val, pos, &s.Layout)
		case "bpm":
			if val.Kind() != '0' {
				return lr.lines.fault(base+pos, `"bpm" is not a number`)
			}
			v, err := strconv.ParseFloat(string(val), 64)
			if err != nil {
				return lr.lines.fault(base+pos, `"bpm" is out of range`)
			}
			s.BPM = v
		case "per_beat":
			return whole(key, val, pos, &s.PerBeat)
		case "reps":
			return whole(key, val, pos, &s.Reps)
		case "count_in_beats":
			var v int64
			if err := whole(key, val, pos, &v); err != nil {
				return err
			}
			s.CountInBeats = &v
		case "rest_beats":
			return whole(key, val, pos, &s.RestBeats)
		case "steps":
			return str(key, val, pos, &s.Steps)
		case "technique":
			return str(key, val, pos, &s.Technique)
		case "footing":
			return str(key, val, pos, &s.Footing)
		default:
			h.DrillExtra = append(h.DrillExtra, Member{key, val.Clone()})
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, k := range drill.Required {
		if _, ok := at[k]; !ok {
			return lr.lines.fault(base, "the drill lacks %q", k)
		}
	}
	if s.Layout != h.Layout {
		return lr.lines.fault(layoutAt, "the header's layout is %.40q, the drill's %.40q", h.Layout, s.Layout)
	}
	d, err := drill.New(*s, nil)
	if err != nil {
		f := err.(*drill.Fault)
		pos := at[f.Key]
		if f.Offset >= 0 {
			pos += 1 + f.Offset // past the opening quote; escapes are not looked into
		}
		return lr.lines.fault(pos, "drill: %s", f.Error())
	}
	lr.Drill = d
	return nil
}

// windows reads windows_us: for each band named, its early and its late end.
func (lr *LogReader) windows(val jsontext.Value, base int) (*drill.Windows, error) {
	if val.Kind() != '{' {
		return nil, lr.lines.fault(base, `"windows_us" is not an object`)
	}
	w := drill.DefaultWindows
	var inner object
	err := inner.walk(val.Clone(), func(key string, val jsontext.Value, pos int) error {
		for b := drill.Inner; b <= drill.Outer; b++ {
			if key != b.String() {
				continue
			}
			dec := jsontext.NewDecoder(bytes.NewReader(val))
			var ends [2]pad.Time
			open, err := dec.ReadToken()
			ok := err == nil && open.Kind() == '['
			for i := 0; ok && i < 2; i++ {
				v, err := dec.ReadValue()
				if ok = err == nil; ok {
					ends[i], ok = integer(v, -drill.MaxWindow, drill.MaxWindow)
				}
			}
			if !ok || dec.PeekKind() != ']' {
				return lr.lines.fault(base+pos, "%q is not two whole numbers of microseconds, such as [-40000,50000]", key)
			}
			w[b] = drill.Bound{Early: ends[0], Late: ends[1]}
			return nil
		}
		return nil // an unknown key of the header is ignored
	})
	if err != nil {
		return nil, err
	}
	if err := w.Check(); err != nil {
		return nil, lr.lines.fault(base, "windows_us: %s", err)
	}
	return &w, nil
}

// LogWriter writes a run log. Write only fills a buffer; Flush hands it to the
// writer below. Neither allocates once the buffer has grown.
type LogWriter struct {
	w   io.Writer
	buf []byte
	ids [][]byte // quoted ids
}

// NewLogWriter begins a run log on w: the header goes into the buffer.
func NewLogWriter(w io.Writer, h Header) (*LogWriter, error) {
	layout, ok := pad.ByName(h.Layout)
	if !ok {
		return nil, fmt.Errorf("there is no layout %q", h.Layout)
	}
	lw := &LogWriter{w: w}
	for _, p := range layout.Panels {
		q, err := jsontext.AppendQuote(nil, p.ID)
		if err != nil {
			return nil, err
		}
		lw.ids = append(lw.ids, q)
	}
	line, err := appendHeader(nil, &h)
	if err != nil {
		return nil, err
	}
	lw.buf = append(line, '\n')
	return lw, nil
}

// Write puts an edge into the buffer.
func (lw *LogWriter) Write(e pad.Edge) error {
	b := append(lw.buf, `{"t":`...)
	b = strconv.AppendInt(b, int64(e.T), 10)
	switch {
	case e.Kind == pad.Gap:
		b = append(b, `,"gap":true,"lost":`...)
		b = strconv.AppendUint(b, uint64(e.Lost), 10)
	case int(e.Panel) >= len(lw.ids):
		return fmt.Errorf("panel %d is not in the layout", e.Panel)
	default:
		b = append(b, `,"panel":`...)
		b = append(b, lw.ids[e.Panel]...)
		b = append(b, `,"down":`...)
		b = strconv.AppendBool(b, e.Kind == pad.Down)
	}
	lw.buf = append(b, '}', '\n')
	return nil
}

// Take hands over what waits in the buffer, whole lines only, and goes on with
// spare in its place.
func (lw *LogWriter) Take(spare []byte) []byte {
	b := lw.buf
	lw.buf = spare[:0]
	return b
}

// Buffered gives the number of bytes that wait for Flush.
func (lw *LogWriter) Buffered() int { return len(lw.buf) }

// Flush writes out whole lines only. What could not be written stays in the buffer.
func (lw *LogWriter) Flush() error {
	if len(lw.buf) == 0 {
		return nil
	}
	n, err := lw.w.Write(lw.buf)
	lw.buf = lw.buf[:copy(lw.buf, lw.buf[n:])]
	return err
}

// appendHeader writes the header's keys in a fixed order, the unknown ones last.
func appendHeader(b []byte, h *Header) ([]byte, error) {
	o := objectWriter{b: append(b, '{')}
	o.str("heeltoe", "run")
	o.num("version", LogVersion)
	o.str("layout", h.Layout)
	o.num("lead_us", int64(h.Lead))
	s := &h.Drill
	d := objectWriter{b: []byte{'{'}}
	d.str("name", s.Name)
	d.str("layout", s.Layout)
	d.raw("bpm", strconv.AppendFloat(nil, s.BPM, 'f', -1, 64))
	d.num("per_beat", s.PerBeat)
	d.num("reps", s.Reps)
	if s.CountInBeats != nil {
		d.num("count_in_beats", *s.CountInBeats)
	}
	if s.RestBeats != 0 {
		d.num("rest_beats", s.RestBeats)
	}
	d.str("steps", s.Steps)
	d.optional("technique", s.Technique)
	d.optional("footing", s.Footing)
	d.extra(h.DrillExtra)
	o.raw("drill", append(d.b, '}'))
	if !h.Started.IsZero() {
		o.str("started", h.Started.Format(time.RFC3339Nano))
	}
	o.optional("pad", h.Pad)
	o.optional("player", h.Player)
	o.optional("bar", h.Bar)
	if h.ShoeMM != 0 {
		o.num("shoe_mm", h.ShoeMM)
	}
	if h.Windows != nil {
		w := objectWriter{b: []byte{'{'}}
		for b := drill.Inner; b <= drill.Outer; b++ {
			w.raw(b.String(), fmt.Appendf(nil, "[%d,%d]", h.Windows[b].Early, h.Windows[b].Late))
		}
		o.raw("windows_us", append(w.b, '}'))
	}
	if h.Shift != 0 {
		o.num("shift_us", int64(h.Shift))
	}
	if h.Debounce != 0 {
		o.num("debounce_us", int64(h.Debounce))
	}
	o.extra(h.Extra)
	if err := errors.Join(o.err, d.err); err != nil {
		return nil, err
	}
	return append(o.b, '}'), nil
}
