package record

import (
	"bufio"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strconv"
	"time"

	"github.com/go-json-experiment/json/jsontext"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// A report recording is JSON Lines. The first line is the header:
//
//	{"heeltoe":"reports","version":1,"layout":"single","started":"2026-05-04T18:00:00Z","devices":[
//	  {"vendor":"1209","product":"0001","serial":"A7","interface":0,"name":"floor pad","descriptor":"0501…c0"}]}
//
// (on one line). Vendor and product are four hexadecimal digits; layout,
// started, serial, interface, name and descriptor are optional. Then comes one
// line for each report, as the device gave it, its ID byte included where
// reports are numbered:
//
//	{"t":1000,"device":0,"bytes":"0100"}
//
// t is when its read returned, in integer microseconds of one monotonic clock
// whose 0 is when the devices had been opened; it never goes back. device is
// an index in devices, bytes is hexadecimal. A recording made for teaching marks
// where a phase begins:
//
//	{"t":0,"phase":"rest"}
//	{"t":2500000,"phase":"nw"}
//
// A phase is "rest" (nobody on the pad), a panel's id (that panel is pressed
// and released, and no other) or "end" (what follows belongs to no phase).
//
// Unknown keys of the header and of its devices are kept and written back after
// the known ones; in the other lines they are errors. Where the last line lacks
// its line feed and does not parse, the recording is cut short: it is read up
// to there, with a warning.

// ReportVersion is the version of the report recording that is read and written.
const ReportVersion = 1

// Limits of a report recording, so that a damaged or foreign file is refused at once.
const (
	MaxReportHeaderBytes = 1 << 20
	MaxReportLineBytes   = 4 << 10 // holds a report of input.MaxReportBytes
)

// Phases of a teaching that are no panels.
const (
	PhaseRest = "rest"
	PhaseEnd  = "end"
)

// ReportDevice is one of the devices of a report recording.
type ReportDevice struct {
	input.Identity
	Name       string
	Descriptor []byte   // its report descriptor, or nil
	Extra      []Member // unknown keys
}

// ReportHeader is the first line of a report recording.
type ReportHeader struct {
	Layout  string    // "" where not given
	Started time.Time // zero where not given
	Devices []ReportDevice
	Extra   []Member // unknown keys
}

// Pad gives the devices of the recording as a map has them.
func (h *ReportHeader) Pad() []input.Device {
	out := make([]input.Device, len(h.Devices))
	for i, d := range h.Devices {
		out[i] = input.Device{Identity: d.Identity, Name: d.Name}
	}
	return out
}

// ReportLine is one line after the header: a report or, where Phase is not "",
// the beginning of a phase.
type ReportLine struct {
	T      pad.Time
	Device int
	Bytes  []byte // good until the next line is read
	Phase  string
}

// ReportReader reads a report recording line by line.
type ReportReader struct {
	Header   ReportHeader
	Warnings []string // found so far, each with file, line and column

	layout *pad.Layout // nil where the header names none
	lines  lineReader
	obj    object
	bytes  []byte
	last   pad.Time
}

// NewReportReader reads the header of a report recording from r; name stands
// for it in messages. Faults are *pad.BadInput.
func NewReportReader(name string, r io.Reader) (*ReportReader, error) {
	rr := &ReportReader{lines: lineReader{name: name, r: bufio.NewReaderSize(r, 64<<10)}}
	line, _, err := rr.lines.next(MaxReportHeaderBytes)
	if err == io.EOF {
		return nil, rr.lines.fault(0, "the file is empty; a report recording begins with its header")
	}
	if err != nil {
		return nil, err
	}
	if err := rr.header(line); err != nil {
		var syn *syntaxFault
		if errors.As(err, &syn) {
			return nil, rr.lines.fault(syn.at, "%s", syn.msg)
		}
		return nil, err
	}
	return rr, nil
}

// header reads the first line.
func (rr *ReportReader) header(line []byte) error {
	h := &rr.Header
	version, versionAt, isReports := pad.Time(-1), 0, false
	var devices jsontext.Value
	devicesAt := 0
	err := rr.obj.walk(line, func(key string, val jsontext.Value, at int) error {
		var kind, started string
		switch key {
		case "heeltoe":
			if err := rr.text(key, val, at, &kind); err != nil {
				return err
			}
			if kind != "reports" {
				return rr.lines.fault(at, `"heeltoe" is %.40q; a report recording has "reports"`, kind)
			}
			isReports = true
		case "version":
			v, ok := integer(val, 0, 1<<31)
			if !ok {
				return rr.lines.fault(at, `"version" is not a whole number`)
			}
			version, versionAt = v, at
		case "layout":
			if err := rr.text(key, val, at, &h.Layout); err != nil {
				return err
			}
			l, ok := pad.ByName(h.Layout)
			if !ok {
				return rr.lines.fault(at, "there is no layout %.40q; the built-in ones are single and double", h.Layout)
			}
			rr.layout = l
		case "started":
			if err := rr.text(key, val, at, &started); err != nil {
				return err
			}
			t, err := time.Parse(time.RFC3339, started)
			if err != nil {
				return rr.lines.fault(at, `"started" is not a time as RFC 3339 writes it, such as 2006-01-02T15:04:05Z`)
			}
			h.Started = t
		case "devices":
			devices, devicesAt = val.Clone(), at
		default:
			h.Extra = append(h.Extra, Member{key, val.Clone()})
		}
		return nil
	})
	switch {
	case err != nil:
		return err
	case !isReports:
		return rr.lines.fault(0, `this is not a report recording: the first line lacks "heeltoe":"reports"`)
	case version < 0:
		return rr.lines.fault(0, `the header lacks "version"`)
	case version != ReportVersion:
		return rr.lines.fault(versionAt, "version %d of the report recording is not known; this program reads version %d", version, ReportVersion)
	case devices == nil:
		return rr.lines.fault(0, `the header lacks "devices"`)
	case devices.Kind() != '[':
		return rr.lines.fault(devicesAt, `"devices" is not an array`)
	}
	return rr.devices(devices, devicesAt)
}

// text reads a string.
func (rr *ReportReader) text(key string, val jsontext.Value, at int, dst *string) error {
	if val.Kind() != '"' {
		return rr.lines.fault(at, "%q is not a string", key)
	}
	*dst = string(rr.obj.unquote(val))
	return nil
}

// devices reads the header's devices, an array that stands at byte base of the line.
func (rr *ReportReader) devices(val jsontext.Value, base int) error {
	rest := val[1:] // past the bracket; the array as a whole has parsed
	for {
		trimmed := rest
		for len(trimmed) > 0 && slices.Contains([]byte(" \t\r\n,"), trimmed[0]) {
			trimmed = trimmed[1:]
		}
		at := base + len(val) - len(trimmed)
		if trimmed[0] == ']' {
			break
		}
		if trimmed[0] != '{' {
			return rr.lines.fault(at, "a device is not an object")
		}
		if len(rr.Header.Devices) == input.MaxDevices {
			return rr.lines.fault(at, "there are more than %d devices", input.MaxDevices)
		}
		n := objectEnd(trimmed)
		if err := rr.device(trimmed[:n], at); err != nil {
			return err
		}
		rest = trimmed[n:]
	}
	if len(rr.Header.Devices) == 0 {
		return rr.lines.fault(base, "there is no device")
	}
	return nil
}

// objectEnd gives the length of the JSON object at the start of text, which has parsed.
func objectEnd(text []byte) int {
	depth, quoted := 0, false
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '{':
			depth++
		case c == '}':
			if depth--; depth == 0 {
				return i + 1
			}
		}
	}
	return len(text)
}

// device reads one device, which stands at byte base of the line.
func (rr *ReportReader) device(text []byte, base int) error {
	var d ReportDevice
	hasVendor, hasProduct := false, false
	err := new(object).walk(text, func(key string, val jsontext.Value, pos int) error {
		at := base + pos
		var s string
		switch key {
		case "vendor", "product":
			if err := rr.text(key, val, at, &s); err != nil {
				return err
			}
			v, err := strconv.ParseUint(s, 16, 16)
			if err != nil || len(s) != 4 || s != fmt.Sprintf("%04x", v) {
				return rr.lines.fault(at, "%q is not four hexadecimal digits in lower case, such as \"1209\"", key)
			}
			if key == "vendor" {
				d.Vendor, hasVendor = uint16(v), true
			} else {
				d.Product, hasProduct = uint16(v), true
			}
		case "serial":
			return rr.text(key, val, at, &d.Serial)
		case "interface":
			v, ok := integer(val, 0, 255)
			if !ok {
				return rr.lines.fault(at, `"interface" is not a whole number from 0 to 255`)
			}
			d.Interface = int(v)
		case "name":
			return rr.text(key, val, at, &d.Name)
		case "descriptor":
			if err := rr.text(key, val, at, &s); err != nil {
				return err
			}
			b, err := unhex(nil, []byte(s))
			if err != nil || len(b) > input.MaxDescriptorBytes {
				return rr.lines.fault(at, `"descriptor" is not at most %d bytes as pairs of hexadecimal digits in lower case`, input.MaxDescriptorBytes)
			}
			d.Descriptor = b
		default:
			d.Extra = append(d.Extra, Member{key, val.Clone()})
		}
		return nil
	})
	var syn *syntaxFault
	switch {
	case errors.As(err, &syn):
		return rr.lines.fault(base+syn.at, "%s", syn.msg)
	case err != nil:
		return err
	case !hasVendor:
		return rr.lines.fault(base, `the device lacks "vendor"`)
	case !hasProduct:
		return rr.lines.fault(base, `the device lacks "product"`)
	}
	rr.Header.Devices = append(rr.Header.Devices, d)
	return nil
}

// unhex appends the bytes that text gives as pairs of lower-case hexadecimal digits.
func unhex(dst, text []byte) ([]byte, error) {
	for _, c := range text {
		if c >= 'A' && c <= 'F' {
			return dst, hex.InvalidByteError(c)
		}
	}
	return hex.AppendDecode(dst, text)
}

// Next gives the next line, and io.EOF after the last. Faults are
// *pad.BadInput.
func (rr *ReportReader) Next() (ReportLine, error) {
	line, whole, err := rr.lines.next(MaxReportLineBytes)
	if err != nil {
		return ReportLine{}, err
	}
	l, err := rr.line(line)
	var syn *syntaxFault
	switch {
	case errors.As(err, &syn) && !whole:
		rr.Warnings = append(rr.Warnings,
			rr.lines.fault(syn.at, "the recording is cut short here; what comes before is read").Error())
		return ReportLine{}, io.EOF
	case errors.As(err, &syn):
		return ReportLine{}, rr.lines.fault(syn.at, "%s", syn.msg)
	}
	return l, err
}

// line reads one line after the header.
func (rr *ReportReader) line(line []byte) (ReportLine, error) {
	var l ReportLine
	var hasT, hasDevice, hasBytes, hasPhase bool
	tAt := 0
	err := rr.obj.walk(line, func(key string, val jsontext.Value, at int) error {
		switch key {
		case "t":
			v, ok := integer(val, 0, MaxMoment)
			if !ok {
				return rr.lines.fault(at, `"t" is not a whole number of microseconds from 0 to %d`, MaxMoment)
			}
			l.T, hasT, tAt = v, true, at
		case "device":
			v, ok := integer(val, 0, pad.Time(len(rr.Header.Devices)-1))
			if !ok {
				return rr.lines.fault(at, `"device" is not a whole number from 0 to %d`, len(rr.Header.Devices)-1)
			}
			l.Device, hasDevice = int(v), true
		case "bytes":
			if val.Kind() != '"' {
				return rr.lines.fault(at, `"bytes" is not a string`)
			}
			b, err := unhex(rr.bytes[:0], rr.obj.unquote(val))
			rr.bytes = b
			if err != nil || len(b) > input.MaxReportBytes {
				return rr.lines.fault(at, `"bytes" is not at most %d bytes as pairs of hexadecimal digits in lower case`, input.MaxReportBytes)
			}
			l.Bytes, hasBytes = b, true
		case "phase":
			if err := rr.text(key, val, at, &l.Phase); err != nil {
				return err
			}
			if !rr.isPhase(l.Phase) {
				return rr.lines.fault(at, `"phase" is neither rest nor end nor a panel of the layout`)
			}
			hasPhase = true
		default:
			return rr.lines.fault(at, "unknown key %.40q", key)
		}
		return nil
	})
	switch {
	case err != nil:
		return l, err
	case !hasT:
		return l, rr.lines.fault(0, `the key "t" is missing`)
	case hasPhase && (hasDevice || hasBytes):
		return l, rr.lines.fault(0, "a phase has no device and no bytes")
	case !hasPhase && !hasDevice:
		return l, rr.lines.fault(0, `the key "device" is missing`)
	case !hasPhase && !hasBytes:
		return l, rr.lines.fault(0, `the key "bytes" is missing`)
	case l.T < rr.last:
		return l, rr.lines.fault(tAt, "time goes back, from %d to %d", rr.last, l.T)
	}
	rr.last = l.T
	return l, nil
}

// isPhase tells whether s names a phase in the recording's layout or, where the
// header names none, in any.
func (rr *ReportReader) isPhase(s string) bool {
	if s == PhaseRest || s == PhaseEnd {
		return true
	}
	for _, l := range []*pad.Layout{pad.Single, pad.Double} {
		if rr.layout == nil || rr.layout == l {
			if _, ok := l.Lookup(s); ok {
				return true
			}
		}
	}
	return false
}

// Fault makes a *pad.BadInput that names the line read last.
func (rr *ReportReader) Fault(format string, args ...any) error {
	return rr.lines.fault(0, format, args...)
}

// ReportWriter writes a report recording. Report and Phase only fill a buffer;
// Flush hands it to the writer below. Neither allocates once the buffer has grown.
type ReportWriter struct {
	w       io.Writer
	buf     []byte
	devices int
	last    pad.Time
}

// NewReportWriter begins a recording on w: the header goes into the buffer.
func NewReportWriter(w io.Writer, h ReportHeader) (*ReportWriter, error) {
	if len(h.Devices) == 0 || len(h.Devices) > input.MaxDevices {
		return nil, fmt.Errorf("a recording is of 1 to %d devices, not of %d", input.MaxDevices, len(h.Devices))
	}
	o := objectWriter{b: []byte{'{'}}
	o.str("heeltoe", "reports")
	o.num("version", ReportVersion)
	o.optional("layout", h.Layout)
	if !h.Started.IsZero() {
		o.str("started", h.Started.Format(time.RFC3339Nano))
	}
	list := []byte{'['}
	for i, d := range h.Devices {
		if i > 0 {
			list = append(list, ',')
		}
		v := objectWriter{b: []byte{'{'}}
		v.str("vendor", fmt.Sprintf("%04x", d.Vendor))
		v.str("product", fmt.Sprintf("%04x", d.Product))
		v.optional("serial", d.Serial)
		v.num("interface", int64(d.Interface))
		v.optional("name", d.Name)
		v.optional("descriptor", hex.EncodeToString(d.Descriptor))
		v.extra(d.Extra)
		if v.err != nil {
			return nil, fmt.Errorf("device %d: %w", i, v.err)
		}
		list = append(append(list, v.b...), '}')
	}
	o.raw("devices", append(list, ']'))
	o.extra(h.Extra)
	if o.err != nil {
		return nil, o.err
	}
	return &ReportWriter{w: w, buf: append(o.b, '}', '\n'), devices: len(h.Devices)}, nil
}

// Report puts a report into the buffer. It fails, and writes nothing, where t
// goes back, the header has no such device or the report is too long.
func (rw *ReportWriter) Report(t pad.Time, device int, report []byte) error {
	switch {
	case device < 0 || device >= rw.devices:
		return fmt.Errorf("the recording has no device %d", device)
	case len(report) > input.MaxReportBytes:
		return fmt.Errorf("a report of %d bytes is longer than %d", len(report), input.MaxReportBytes)
	}
	if err := rw.moment(t); err != nil {
		return err
	}
	b := append(rw.buf, `{"t":`...)
	b = strconv.AppendInt(b, int64(t), 10)
	b = append(b, `,"device":`...)
	b = strconv.AppendInt(b, int64(device), 10)
	b = append(b, `,"bytes":"`...)
	b = hex.AppendEncode(b, report)
	rw.buf = append(b, "\"}\n"...)
	return nil
}

// Phase puts the beginning of a phase into the buffer: PhaseRest, PhaseEnd or a
// panel's id.
func (rw *ReportWriter) Phase(t pad.Time, name string) error {
	if err := rw.moment(t); err != nil {
		return err
	}
	o := objectWriter{b: append(rw.buf, '{')}
	o.num("t", int64(t))
	o.str("phase", name)
	if o.err != nil {
		return o.err
	}
	rw.buf = append(o.b, '}', '\n')
	return nil
}

func (rw *ReportWriter) moment(t pad.Time) error {
	if t < rw.last || t > MaxMoment {
		return fmt.Errorf("time goes from %d to %d; it is from 0 to %d and never goes back", rw.last, t, MaxMoment)
	}
	rw.last = t
	return nil
}

// Buffered gives the number of bytes that wait for Flush.
func (rw *ReportWriter) Buffered() int { return len(rw.buf) }

// Flush writes out whole lines only. What could not be written stays in the buffer.
func (rw *ReportWriter) Flush() error {
	if len(rw.buf) == 0 {
		return nil
	}
	n, err := rw.w.Write(rw.buf)
	rw.buf = rw.buf[:copy(rw.buf, rw.buf[n:])]
	return err
}

// ReportScript decodes a report recording by a map. It is an input.Script.
type ReportScript struct {
	Header ReportHeader

	reader *ReportReader
	closer io.Closer
	dec    *input.Decoder
	device []int // index in the map of each of the recording's devices, -1 for none
	hold   pad.Time
	order  input.Order
	edges  []pad.Edge
	until  pad.Time // edges up to here are in order
	held   pad.PanelSet
}

// OpenReports opens the named recording to be decoded by m. The recording's
// devices are found by the identities that m gives them; a device without one
// in m (vendor and product 0) is the recording's of the same index. Close it.
func OpenReports(file string, m *input.Map) (*ReportScript, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, pad.FileFault(file, "opened", err)
	}
	s, err := NewReportScript(file, f, m)
	if err != nil {
		f.Close()
		return nil, err
	}
	s.closer = f
	return s, nil
}

// NewReportScript is OpenReports on r; name stands for it in messages.
func NewReportScript(name string, r io.Reader, m *input.Map) (*ReportScript, error) {
	dec, err := input.NewDecoder(m)
	if err != nil {
		return nil, err
	}
	rr, err := NewReportReader(name, r)
	if err != nil {
		return nil, err
	}
	s := &ReportScript{Header: rr.Header, reader: rr, dec: dec, hold: m.Hold()}
	for range rr.Header.Devices {
		s.device = append(s.device, -1)
	}
	for i, want := range m.Devices {
		at := slices.IndexFunc(rr.Header.Devices, func(d ReportDevice) bool { return d.Identity == want.Identity })
		if want.Vendor == 0 && want.Product == 0 && i < len(s.device) {
			at = i
		}
		if at < 0 || s.device[at] >= 0 {
			return nil, rr.Fault("the recording has no device %s, which the pad is made of", want.Identity)
		}
		s.device[at] = i
		dec.Begin(0, i)
	}
	return s, nil
}

// Next gives the next edge in time order, and io.EOF after the last.
func (s *ReportScript) Next() (pad.Edge, error) {
	for {
		if e, ok := s.order.Next(s.until); ok {
			return e, nil
		}
		if s.until == pad.Never {
			return pad.Edge{}, io.EOF
		}
		l, err := s.reader.Next()
		if err == io.EOF {
			s.until = pad.Never
			continue
		}
		if err != nil {
			return pad.Edge{}, err
		}
		s.until = l.T - s.hold
		if l.Phase != "" || s.device[l.Device] < 0 {
			continue
		}
		s.edges = s.dec.Decode(s.edges[:0], l.T, s.device[l.Device], l.Bytes)
		for _, e := range s.edges {
			s.order.Put(e)
		}
		s.held |= s.dec.Held()
	}
}

// Held gives the panels that were down at the start, as far as the recording
// has been read.
func (s *ReportScript) Held() pad.PanelSet { return s.held }

// Counts gives what the decoder made of the reports so far.
func (s *ReportScript) Counts() input.Counts { return s.dec.Counts() }

// Warnings gives what was odd in the recording so far, each with file, line and column.
func (s *ReportScript) Warnings() []string { return s.reader.Warnings }

// Close closes the file.
func (s *ReportScript) Close() error {
	if s.closer == nil {
		return nil
	}
	return s.closer.Close()
}

// TeachReports feeds a recording to a teacher, phase by phase.
func TeachReports(rr *ReportReader, t *input.Teacher, layout *pad.Layout) error {
	for i, d := range rr.Header.Devices {
		if len(d.Descriptor) > 0 {
			// A descriptor that does not parse is done without, as a teacher can.
			if desc, err := input.ParseDescriptor(d.Descriptor); err == nil {
				t.Describe(i, desc)
			}
		}
	}
	phases := 0
	for {
		l, err := rr.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		switch {
		case l.Phase == PhaseEnd:
			t.End()
		case l.Phase == PhaseRest:
			phases++
			err = t.Phase(input.Rest)
		case l.Phase != "":
			p, ok := layout.Lookup(l.Phase)
			if !ok {
				return rr.Fault("%q is not a panel of the layout %s", l.Phase, layout.Name)
			}
			phases++
			err = t.Phase(p)
		default:
			err = t.Feed(l.T, l.Device, l.Bytes)
		}
		if err != nil {
			return rr.Fault("%s", err)
		}
	}
	if phases == 0 {
		return rr.Fault("the recording marks no phase: it was not made for teaching; record one by heeltoe pads teach --keep")
	}
	return nil
}
