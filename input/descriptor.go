package input

import (
	"fmt"
	"slices"

	"heeltoe/footing/pad"
)

// Usage pages and usages of a report descriptor that matter here (HID Usage
// Tables, pages 0x01 and 0x09).
const (
	PageDesktop = 0x01
	PageButton  = 0x09

	UsageJoystick = 0x04
	UsageGamePad  = 0x05
	UsageKeyboard = 0x06
	UsageHat      = 0x39
)

// Limits of a report descriptor.
const (
	MaxDescriptorBytes = 4096 // as in the Linux kernel's HID_MAX_DESCRIPTOR_SIZE
	maxFields          = 8 * MaxReportBytes
	maxNesting         = 64
)

// Field is one value in the input reports of a device.
type Field struct {
	Report uint8 // ID of its reports, 0 where they are not numbered
	// Bit is where it starts, counted from the report's first bit, its ID byte
	// included; bit 0 of a byte is its lowest.
	Bit, Size  int
	Page       uint16
	Usage      uint16 // 0 where the descriptor names none
	Min, Max   int32  // logical range; Min < 0 means that the value is signed
	Array      bool   // the value is the index of a usage, as a keyboard's keys are
	Padding    bool   // constant: it says nothing
	Collection uint32 // usage page and usage of the top-level collection, as page<<16 | usage
}

// Descriptor is the input reports of a device, as its report descriptor has them.
type Descriptor struct {
	Numbered bool // its reports start with an ID byte
	Fields   []Field
	Top      []uint32 // usage page and usage of each top-level collection, as page<<16 | usage
}

// DescriptorError is where and why a report descriptor cannot be read.
type DescriptorError struct {
	Offset int // byte, from 0
	Msg    string
}

func (e *DescriptorError) Error() string {
	return fmt.Sprintf("report descriptor, byte %d: %s", e.Offset, e.Msg)
}

// globals are the items that a Push keeps (HID 1.11, section 6.2.2.7).
type globals struct {
	page        uint16
	min, max    int32
	rawMax      uint32
	size, count uint32
	report      uint8
}

// locals are the items that the next main item uses up (section 6.2.2.8).
type locals struct {
	usages         []uint32 // page<<16 | usage, page 0 where it was not given
	first, last    uint32
	hasMin, hasMax bool
}

// ParseDescriptor reads a report descriptor (HID 1.11, section 6.2.2). It
// gives a *DescriptorError where that is malformed. Output and feature reports
// are passed over.
func ParseDescriptor(desc []byte) (*Descriptor, error) {
	if len(desc) > MaxDescriptorBytes {
		return nil, &DescriptorError{MaxDescriptorBytes, fmt.Sprintf("it is longer than %d bytes", MaxDescriptorBytes)}
	}
	d := &Descriptor{}
	var g globals
	var l locals
	var stack []globals
	var nesting int
	var top uint32
	bits := map[uint8]int{} // of each report, its ID byte not counted
	plain := false          // an input came before any report ID
	for i := 0; i < len(desc); {
		start := i
		bad := func(format string, args ...any) (*Descriptor, error) {
			return nil, &DescriptorError{start, fmt.Sprintf(format, args...)}
		}
		prefix := desc[i]
		i++
		if prefix == 0xfe { // a long item: size, tag, data (section 6.2.2.3)
			if i+2 > len(desc) || i+2+int(desc[i]) > len(desc) {
				return bad("a long item is cut short")
			}
			i += 2 + int(desc[i])
			continue
		}
		n := int(prefix & 3)
		if n == 3 {
			n = 4
		}
		if i+n > len(desc) {
			return bad("an item is cut short")
		}
		var u uint32
		for k := range n {
			u |= uint32(desc[i+k]) << (8 * k)
		}
		signed := int32(u)
		switch n {
		case 1:
			signed = int32(int8(u))
		case 2:
			signed = int32(int16(u))
		}
		i += n
		switch prefix & 0xfc {
		// Main items.
		case 0x80: // input
			if err := d.input(&g, &l, u, bits, top); err != "" {
				return bad("%s", err)
			}
			if g.report == 0 {
				plain = true
			}
			if plain && d.Numbered {
				return bad("an input comes before the first report ID")
			}
			l = locals{}
		case 0x90, 0xb0: // output, feature
			l = locals{}
		case 0xa0: // collection
			if nesting == maxNesting {
				return bad("collections are nested more than %d deep", maxNesting)
			}
			if nesting == 0 {
				top = 0
				if len(l.usages) > 0 {
					top = withPage(l.usages[0], g.page)
				}
				d.Top = append(d.Top, top)
			}
			nesting++
			l = locals{}
		case 0xc0: // end of collection
			if nesting == 0 {
				return bad("a collection ends that did not begin")
			}
			nesting--
			l = locals{}

		// Global items.
		case 0x04:
			g.page = uint16(u)
		case 0x14:
			g.min = signed
		case 0x24:
			g.max, g.rawMax = signed, u
		case 0x74:
			g.size = u
		case 0x84:
			if u == 0 || u > 255 {
				return bad("%d is no report ID", u)
			}
			g.report = uint8(u)
			d.Numbered = true
			if plain {
				return bad("an input comes before the first report ID")
			}
		case 0x94:
			g.count = u
		case 0xa4:
			if len(stack) == maxNesting {
				return bad("more than %d pushes", maxNesting)
			}
			stack = append(stack, g)
		case 0xb4:
			if len(stack) == 0 {
				return bad("a pop without a push")
			}
			g, stack = stack[len(stack)-1], stack[:len(stack)-1]

		// Local items.
		case 0x08:
			if len(l.usages) == maxFields {
				return bad("more than %d usages", maxFields)
			}
			l.usages = append(l.usages, u)
		case 0x18:
			l.first, l.hasMin = u, true
		case 0x28:
			l.last, l.hasMax = u, true
		}
		if l.hasMin && l.hasMax {
			if l.last < l.first || int(l.last-l.first) >= maxFields-len(l.usages) {
				return bad("usages from %d to %d are no range", l.first, l.last)
			}
			for v := l.first; ; v++ {
				l.usages = append(l.usages, v)
				if v == l.last {
					break
				}
			}
			l.hasMin, l.hasMax = false, false
		}
	}
	if nesting != 0 {
		return nil, &DescriptorError{len(desc), "a collection does not end"}
	}
	if d.Numbered {
		for i := range d.Fields {
			d.Fields[i].Bit += 8
		}
	}
	return d, nil
}

// withPage gives a usage its page, where it was written without.
func withPage(usage uint32, page uint16) uint32 {
	if usage>>16 == 0 {
		return uint32(page)<<16 | usage
	}
	return usage
}

// input adds the fields of one input item; it gives what is wrong, or "".
func (d *Descriptor) input(g *globals, l *locals, flags uint32, bits map[uint8]int, top uint32) string {
	if g.count == 0 || g.size == 0 {
		return ""
	}
	at := bits[g.report]
	if g.size > 8*MaxReportBytes || g.count > 8*MaxReportBytes || uint64(at)+uint64(g.size)*uint64(g.count) > 8*MaxReportBytes {
		return fmt.Sprintf("a report is longer than %d bytes", MaxReportBytes)
	}
	constant, variable := flags&1 != 0, flags&2 != 0
	if len(d.Fields)+int(g.count) > maxFields {
		return fmt.Sprintf("more than %d fields", maxFields)
	}
	hi := g.max
	if g.min >= 0 && hi < 0 { // written in too few bytes for its sign, as many devices do
		hi = int32(min(g.rawMax, 1<<31-1))
	}
	for k := range int(g.count) {
		f := Field{Report: g.report, Bit: at + k*int(g.size), Size: int(g.size), Page: g.page,
			Min: g.min, Max: hi, Array: !variable, Padding: constant, Collection: top}
		if variable && len(l.usages) > 0 {
			// The last usage serves the controls that are left (section 6.2.2.8).
			u := withPage(l.usages[min(k, len(l.usages)-1)], g.page)
			f.Page, f.Usage = uint16(u>>16), uint16(u)
		}
		d.Fields = append(d.Fields, f)
	}
	bits[g.report] = at + int(g.size)*int(g.count)
	return ""
}

// Bytes gives the length of the input reports with the ID given (0: not
// numbered), the ID byte counted, and 0 where there are none.
func (d *Descriptor) Bytes(report uint8) int {
	end := 0
	for _, f := range d.Fields {
		if f.Report == report {
			end = max(end, f.Bit+f.Size)
		}
	}
	return (end + 7) / 8
}

// Buttons gives where the buttons are, by report ID, then by button number:
// one-bit fields of the button page that are not padding.
func (d *Descriptor) Buttons() []Sensor {
	var fields []Field
	for _, f := range d.Fields {
		if f.Page == PageButton && f.Size == 1 && !f.Array && !f.Padding && f.Usage != 0 {
			fields = append(fields, f)
		}
	}
	slices.SortStableFunc(fields, func(a, b Field) int {
		if a.Report != b.Report {
			return int(a.Report) - int(b.Report)
		}
		return int(a.Usage) - int(b.Usage)
	})
	out := make([]Sensor, len(fields))
	for i, f := range fields {
		out[i] = Sensor{Panel: pad.NoPanel, Report: f.Report, Offset: f.Bit / 8, Mask: 1 << (f.Bit % 8)}
	}
	return out
}

// IsController tells whether the device has buttons and says that it is a
// joystick or a game pad, as floor pads do.
func (d *Descriptor) IsController() bool {
	return len(d.Buttons()) > 0 &&
		(slices.Contains(d.Top, PageDesktop<<16|UsageJoystick) || slices.Contains(d.Top, PageDesktop<<16|UsageGamePad))
}

// Propose gives the map in which the buttons of the devices, in order, are the
// panels of the layout, in order. It is a guess to start from, to be confirmed
// by pressing. It fails where there are fewer buttons than panels. A nil
// descriptor has no buttons.
func Propose(l *pad.Layout, devices []Device, descs []*Descriptor) (*Map, error) {
	m := &Map{Layout: l, Devices: devices}
	for i, d := range descs {
		if d == nil {
			continue
		}
		for _, s := range d.Buttons() {
			if len(m.Sensors) == len(l.Panels) {
				break
			}
			if len(devices) > 1 && len(m.Sensors) >= (i+1)*len(l.Panels)/len(devices) {
				break // this device has its share
			}
			s.Panel = pad.Panel(len(m.Sensors))
			s.Device = uint8(i)
			m.Sensors = append(m.Sensors, s)
		}
	}
	if n := len(m.Sensors); n < len(l.Panels) {
		return nil, fmt.Errorf("the report descriptor has %d buttons for the %d panels of the layout %s: teach the pad by pressing", n, len(l.Panels), l.Name)
	}
	return m, m.Check()
}
