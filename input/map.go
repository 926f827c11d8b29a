package input

import (
	"fmt"

	"heeltoe/footing/pad"
)

// MaxDevices is the largest number of devices that make up a pad: one for
// both pads of a pair, or one each.
const MaxDevices = 2

// MaxReportBytes is the longest report that is handled, its ID byte counted.
// It is the largest packet of a high-speed interrupt endpoint (USB 2.0, 5.7.3).
const MaxReportBytes = 1024

// Identity names a device so that it can be found again after it was unplugged.
type Identity struct {
	Vendor, Product uint16
	Serial          string // "" where the device has none
	Interface       int    // USB interface number
}

// String gives vendor and product in hexadecimal, the serial number where
// there is one and the interface where it is not 0: "1209:0001:A7/1".
func (id Identity) String() string {
	s := fmt.Sprintf("%04x:%04x", id.Vendor, id.Product)
	if id.Serial != "" {
		s += ":" + id.Serial
	}
	if id.Interface != 0 {
		s += fmt.Sprintf("/%d", id.Interface)
	}
	return s
}

// Format is how a sensor's value lies in a report. Words are little-endian
// (HID 1.11, section 8.4).
type Format uint8

// Formats of a sensor.
const (
	Bits Format = iota // bits of one byte: on or off
	U8                 // one byte, 0 to 255
	S8                 // one byte, -128 to 127
	U16                // two bytes, 0 to 65,535
	S16                // two bytes, -32,768 to 32,767
)

// Formats are the names of the formats, by Format.
var Formats = []string{"bits", "u8", "s8", "u16", "s16"}

func (f Format) String() string {
	if int(f) < len(Formats) {
		return Formats[f]
	}
	return fmt.Sprintf("Format(%d)", uint8(f))
}

// width gives the bytes that a value takes.
func (f Format) width() int {
	if f >= U16 {
		return 2
	}
	return 1
}

// span gives the least and the largest value.
func (f Format) span() (lo, hi int32) {
	switch f {
	case S8:
		return -1 << 7, 1<<7 - 1
	case U16:
		return 0, 1<<16 - 1
	case S16:
		return -1 << 15, 1<<15 - 1
	}
	return 0, 1<<8 - 1
}

// at reads the value at offset; the caller has checked the length.
func (f Format) at(report []byte, offset int) int32 {
	b := int32(report[offset])
	switch f {
	case S8:
		return int32(int8(b))
	case U16:
		return b | int32(report[offset+1])<<8
	case S16:
		return int32(int16(b | int32(report[offset+1])<<8))
	}
	return b
}

// Sensor says where in the reports one panel is to be read.
type Sensor struct {
	Panel  pad.Panel
	Device uint8 // index in Map.Devices
	// Report is the ID of the reports that hold the sensor, 1 to 255, or 0
	// where the device's reports are not numbered (HID 1.11, section 6.2.2.7:
	// 0 is no ID).
	Report uint8
	// Offset counts bytes from the report's first, which is its ID where
	// reports are numbered.
	Offset int
	Format Format

	// Mask is for Bits: the panel is down while any of these bits is set or,
	// with ActiveLow, while any of them is clear.
	Mask      uint8
	ActiveLow bool

	// Press and Release are for the other formats. With Press > Release the
	// panel goes down at a value of Press or more and up at Release or less;
	// with Press < Release it goes down at Press or less and up at Release or
	// more. Between the two it stays as it is.
	Press, Release int32
}

// String says where the sensor is in words for the player.
func (s Sensor) String() string {
	at := fmt.Sprintf("byte %d", s.Offset)
	if s.Report != 0 {
		at = fmt.Sprintf("report %d, %s", s.Report, at)
	}
	if s.Device != 0 {
		at = fmt.Sprintf("device %d, %s", s.Device, at)
	}
	switch {
	case s.Format != Bits:
		return fmt.Sprintf("%s as %s, down at %d, up at %d", at, s.Format, s.Press, s.Release)
	case s.Mask&(s.Mask-1) == 0 && s.Mask != 0:
		bit := 0
		for s.Mask>>bit != 1 {
			bit++
		}
		at += fmt.Sprintf(", bit %d", bit)
	default:
		at += fmt.Sprintf(", bits 0x%02x", s.Mask)
	}
	if s.ActiveLow {
		at += ", active low"
	}
	return at
}

// Value gives what a report says of the sensor: 0 or 1 for Bits, else the value.
// ok is false where the report holds none: it is another one's, or too short.
func (s *Sensor) Value(report []byte) (v int32, ok bool) {
	if len(report) < s.Offset+s.Format.width() || s.Report != 0 && report[0] != s.Report {
		return 0, false
	}
	if s.Format != Bits {
		return s.Format.at(report, s.Offset), true
	}
	if s.down(report, false) {
		v = 1
	}
	return v, true
}

// down tells whether the panel is down in report, given whether it was before.
func (s *Sensor) down(report []byte, was bool) bool {
	if s.Format == Bits {
		b := report[s.Offset]
		if s.ActiveLow {
			b = ^b
		}
		return b&s.Mask != 0
	}
	v := s.Format.at(report, s.Offset)
	press, release := s.Press, s.Release
	if press < release {
		v, press, release = -v, -press, -release
	}
	if was {
		return v > release
	}
	return v >= press
}

// Road is how a device is heard.
type Road uint8

// Roads to a device.
const (
	Raw    Road = iota // its reports, over USB HID
	Events             // the system's input events, of which input/evdev makes reports
)

// Roads are the names of the roads, by Road.
var Roads = []string{"hid", "events"}

func (r Road) String() string {
	if int(r) < len(Roads) {
		return Roads[r]
	}
	return fmt.Sprintf("Road(%d)", uint8(r))
}

// Device is one of the devices that make up a pad.
type Device struct {
	Identity
	Road Road
	Name string // what the device calls itself, or ""
	// Delay is how much later than the foot its reports come, 0 or more; it is
	// subtracted from the time of its edges.
	Delay pad.Time
}

// MaxDelay is the largest Delay of a device.
const MaxDelay = pad.Second

// Map says how the reports of one or two devices tell which panels are down.
// It is not changed once a decoder uses it.
type Map struct {
	Layout  *pad.Layout
	Devices []Device
	Sensors []Sensor // at most one a panel
}

// Fault is what is wrong with a Map: the sensor (index in Sensors) or the
// device (index in Devices), -1 where it is neither, and the field's name in lower case.
type Fault struct {
	Sensor, Device int
	Field          string
	Msg            string
}

func (f *Fault) Error() string {
	switch {
	case f.Sensor >= 0:
		return fmt.Sprintf("sensor %d: %s: %s", f.Sensor, f.Field, f.Msg)
	case f.Device >= 0:
		return fmt.Sprintf("device %d: %s: %s", f.Device, f.Field, f.Msg)
	}
	return f.Msg
}

// Check gives a *Fault where the map cannot be decoded by: no layout, no
// device or too many, no sensor, a panel twice, a place outside a report, no
// bit, thresholds that are equal or out of the format's range, a device with
// numbered and unnumbered reports.
func (m *Map) Check() error {
	whole := func(format string, args ...any) error {
		return &Fault{Sensor: -1, Device: -1, Msg: fmt.Sprintf(format, args...)}
	}
	switch {
	case m.Layout == nil:
		return whole("the map has no layout")
	case len(m.Devices) == 0 || len(m.Devices) > MaxDevices:
		return whole("a pad is made of 1 to %d devices, not of %d", MaxDevices, len(m.Devices))
	case len(m.Sensors) == 0:
		return whole("the map has no sensor")
	}
	for i, d := range m.Devices {
		if d.Delay < 0 || d.Delay > MaxDelay {
			return &Fault{Sensor: -1, Device: i, Field: "delay", Msg: fmt.Sprintf("%d µs is not from 0 to %d", d.Delay, MaxDelay)}
		}
		if int(d.Road) >= len(Roads) || d.Road != m.Devices[0].Road {
			return &Fault{Sensor: -1, Device: i, Field: "road", Msg: "both devices of a pad are heard on the same road, hid or events"}
		}
		if d.Interface < 0 || d.Interface > 255 {
			return &Fault{Sensor: -1, Device: i, Field: "interface", Msg: fmt.Sprintf("%d is not from 0 to 255", d.Interface)}
		}
	}
	var seen pad.PanelSet
	var numbered, plain [MaxDevices]bool
	for i := range m.Sensors {
		s := &m.Sensors[i]
		bad := func(field, format string, args ...any) error {
			return &Fault{Sensor: i, Device: -1, Field: field, Msg: fmt.Sprintf(format, args...)}
		}
		first := 0
		if s.Report != 0 {
			first = 1
		}
		lo, hi := s.Format.span()
		switch {
		case int(s.Panel) >= len(m.Layout.Panels):
			return bad("panel", "the layout %s has no panel %d", m.Layout.Name, s.Panel)
		case seen.Has(s.Panel):
			return bad("panel", "%s has a sensor already", m.Layout.ID(s.Panel))
		case int(s.Device) >= len(m.Devices):
			return bad("device", "%d is not from 0 to %d", s.Device, len(m.Devices)-1)
		case int(s.Format) >= len(Formats):
			return bad("format", "there is no format %d", s.Format)
		case s.Offset < first || s.Offset > MaxReportBytes-s.Format.width():
			return bad("offset", "%d is not from %d to %d", s.Offset, first, MaxReportBytes-s.Format.width())
		case s.Format == Bits && s.Mask == 0:
			return bad("mask", "0 has no bit")
		case s.Format != Bits && (s.Press < lo || s.Press > hi):
			return bad("press", "%d is not from %d to %d", s.Press, lo, hi)
		case s.Format != Bits && (s.Release < lo || s.Release > hi):
			return bad("release", "%d is not from %d to %d", s.Release, lo, hi)
		case s.Format != Bits && s.Press == s.Release:
			return bad("release", "must differ from press, so that noise at the threshold makes no presses")
		}
		seen = seen.With(s.Panel)
		if s.Report == 0 {
			plain[s.Device] = true
		} else {
			numbered[s.Device] = true
		}
		if plain[s.Device] && numbered[s.Device] {
			return bad("report", "a device numbers all of its reports or none")
		}
	}
	return nil
}

// Lacking gives the panels of the layout that have no sensor.
func (m *Map) Lacking() pad.PanelSet {
	var s pad.PanelSet
	for p := range m.Layout.Panels {
		s = s.With(pad.Panel(p))
	}
	for i := range m.Sensors {
		s = s.Without(m.Sensors[i].Panel)
	}
	return s
}

// maxDelay gives the largest delay of the devices.
func (m *Map) maxDelay() pad.Time {
	var d pad.Time
	for i := range m.Devices {
		d = max(d, m.Devices[i].Delay)
	}
	return d
}
