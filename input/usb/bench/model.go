package bench

import (
	"heeltoe/footing/pad"
	"heeltoe/input"
)

// Vendor is the vendor ID of all pads made here. pid.codes keeps 1209 and the
// product IDs 0001 to 0010 for tests.
const Vendor = 0x1209

// Model is a make of USB device.
type Model struct {
	Product  uint16 // product ID
	Name     string
	Serial   string // "" for none
	Interval uint8  // bInterval of its endpoint: ms between two reports at full speed (USB 2.0, 9.6.6)
	// Descriptor is its report descriptor (HID 1.11, 6.2.2).
	Descriptor []byte
	// Repeats tells that it reports in every interval; else only changes.
	Repeats bool
	Parts   []Part
}

// Part is reports of one kind, and the panels that they tell of. A device with
// several sends each where it changed, and where it repeats one after the other.
type Part struct {
	Panels pad.PanelSet
	// Encode makes the report in frame n of the device for what is down of Panels.
	Encode func(down pad.PanelSet, n uint64) []byte
}

// Identity is how the device is found.
func (m *Model) Identity() input.Identity {
	return input.Identity{Vendor: Vendor, Product: m.Product, Serial: m.Serial}
}

// Pad is a pad as a player has it: one device or two.
type Pad struct {
	Name   string
	Layout *pad.Layout
	Models []Model
	// Keys tells that the kernel's input events carry all of its panels.
	Keys bool
	// Counts tells that its reports are counted.
	Counts bool
}

// panels gives n panels from first on.
func panels(first, n int) pad.PanelSet {
	var s pad.PanelSet
	for i := range n {
		s = s.With(pad.Panel(first + i))
	}
	return s
}

// lowest gives what is down as bits, panel first at bit 0.
func lowest(down pad.PanelSet, first int) uint16 { return uint16(down >> first) }

// Pads gives the pads: what home pads and the boards in them are known to do
// (common practice, no source), each in another way.
func Pads() []Pad {
	five := panels(0, 5)
	return []Pad{
		{Name: "ten buttons", Layout: pad.Double, Keys: true, Models: []Model{{
			Product: 1, Name: "Ten Buttons", Serial: "T1", Interval: 1,
			// The descriptor of a game pad with ten buttons: items of HID 1.11, 6.2.2.
			Descriptor: []byte{0x05, 0x01, 0x09, 0x05, 0xa1, 0x01, 0x05, 0x09, 0x19, 0x01, 0x29, 0x0a, 0x15, 0x00, 0x25, 0x01,
				0x75, 0x01, 0x95, 0x0a, 0x81, 0x02, 0x75, 0x06, 0x95, 0x01, 0x81, 0x03, 0xc0},
			Parts: []Part{{panels(0, 10), func(down pad.PanelSet, _ uint64) []byte { return word(lowest(down, 0)) }}},
		}}},
		{Name: "joystick", Layout: pad.Single, Keys: true, Models: []Model{{
			Product: 2, Name: "Joystick", Interval: 1,
			// A hat of 4 bits, 12 buttons from bit 4 on, two axes of a byte.
			Descriptor: []byte{0x05, 0x01, 0x09, 0x04, 0xa1, 0x01,
				0x09, 0x39, 0x15, 0x00, 0x25, 0x07, 0x75, 0x04, 0x95, 0x01, 0x81, 0x42,
				0x05, 0x09, 0x19, 0x01, 0x29, 0x0c, 0x15, 0x00, 0x25, 0x01, 0x75, 0x01, 0x95, 0x0c, 0x81, 0x02,
				0x05, 0x01, 0x09, 0x30, 0x09, 0x31, 0x15, 0x00, 0x26, 0xff, 0x00, 0x75, 0x08, 0x95, 0x02, 0x81, 0x02, 0xc0},
			Parts: []Part{{five, joystick}},
		}}},
		{Name: "two IDs", Layout: pad.Double, Keys: false, Models: []Model{{
			Product: 3, Name: "Two In One", Serial: "D7", Interval: 1,
			Descriptor: append(numbered(1), numbered(2)...),
			Parts: []Part{
				{panels(0, 5), func(down pad.PanelSet, _ uint64) []byte { return []byte{1, byte(lowest(down, 0))} }},
				{panels(5, 5), func(down pad.PanelSet, _ uint64) []byte { return []byte{2, byte(lowest(down, 5))} }},
			},
		}}},
		{Name: "two devices", Layout: pad.Double, Models: []Model{
			{Product: 4, Name: "Half Pad", Serial: "LEFT", Interval: 1, Descriptor: fiveButtons,
				Parts: []Part{{panels(0, 5), func(down pad.PanelSet, _ uint64) []byte { return []byte{byte(lowest(down, 0))} }}}},
			{Product: 4, Name: "Half Pad", Serial: "RIGHT", Interval: 1, Descriptor: fiveButtons,
				Parts: []Part{{panels(5, 5), func(down pad.PanelSet, _ uint64) []byte { return []byte{byte(lowest(down, 5))} }}}},
		}},
		{Name: "8 ms", Layout: pad.Single, Keys: true, Models: []Model{{
			Product: 5, Name: "Slow Pad", Serial: "S8", Interval: 8, Descriptor: fiveButtons,
			Parts: []Part{{five, func(down pad.PanelSet, _ uint64) []byte { return []byte{byte(lowest(down, 0))} }}},
		}}},
		{Name: "analogue", Layout: pad.Single, Models: []Model{{
			Product: 6, Name: "Load Cells", Serial: "A1", Interval: 4, Repeats: true,
			// Five axes of a byte.
			Descriptor: []byte{0x05, 0x01, 0x09, 0x04, 0xa1, 0x01, 0x09, 0x30, 0x09, 0x31, 0x09, 0x32, 0x09, 0x33, 0x09, 0x34,
				0x15, 0x00, 0x26, 0xff, 0x00, 0x75, 0x08, 0x95, 0x05, 0x81, 0x02, 0xc0},
			Parts: []Part{{five, analogue}},
		}}},
		{Name: "counter 1000 Hz", Layout: pad.Single, Counts: true, Models: []Model{{
			Product: 7, Name: "Counting Pad", Serial: "C1", Interval: 1, Repeats: true,
			// A byte of the vendor's, five buttons, three bits of nothing.
			Descriptor: []byte{0x05, 0x01, 0x09, 0x05, 0xa1, 0x01,
				0x06, 0x00, 0xff, 0x09, 0x01, 0x15, 0x00, 0x26, 0xff, 0x00, 0x75, 0x08, 0x95, 0x01, 0x81, 0x02,
				0x05, 0x09, 0x19, 0x01, 0x29, 0x05, 0x15, 0x00, 0x25, 0x01, 0x75, 0x01, 0x95, 0x05, 0x81, 0x02,
				0x75, 0x03, 0x95, 0x01, 0x81, 0x03, 0xc0},
			Parts: []Part{{five, func(down pad.PanelSet, n uint64) []byte { return []byte{byte(n), byte(lowest(down, 0))} }}},
		}}},
		{Name: "active low", Layout: pad.Single, Models: []Model{{
			Product: 8, Name: "Bare Board", Serial: "L0", Interval: 1,
			// Eight bits of the vendor's, nothing that the system knows.
			Descriptor: []byte{0x06, 0x00, 0xff, 0x09, 0x01, 0xa1, 0x01, 0x09, 0x02, 0x15, 0x00, 0x25, 0x01,
				0x75, 0x01, 0x95, 0x08, 0x81, 0x02, 0xc0},
			Parts: []Part{{five, func(down pad.PanelSet, _ uint64) []byte { return []byte{^byte(lowest(down, 0))} }}},
		}}},
		{Name: "claims more", Layout: pad.Single, // the system drops its reports as too short: no keys
			Models: []Model{{
				Product: 9, Name: "Boaster", Serial: "B9", Interval: 1,
				// Ten buttons and 62 bytes of the vendor's, of which it sends one.
				Descriptor: []byte{0x05, 0x01, 0x09, 0x05, 0xa1, 0x01, 0x05, 0x09, 0x19, 0x01, 0x29, 0x0a, 0x15, 0x00, 0x25, 0x01,
					0x75, 0x01, 0x95, 0x0a, 0x81, 0x02, 0x75, 0x06, 0x95, 0x01, 0x81, 0x03,
					0x06, 0x00, 0xff, 0x09, 0x01, 0x15, 0x00, 0x26, 0xff, 0x00, 0x75, 0x08, 0x95, 0x3e, 0x81, 0x02, 0xc0},
				Parts: []Part{{five, func(down pad.PanelSet, _ uint64) []byte { return append(word(lowest(down, 0)<<3), 0x55) }}},
			}}},
	}
}

// fiveButtons describes a game pad with five buttons.
var fiveButtons = []byte{0x05, 0x01, 0x09, 0x05, 0xa1, 0x01, 0x05, 0x09, 0x19, 0x01, 0x29, 0x05, 0x15, 0x00, 0x25, 0x01,
	0x75, 0x01, 0x95, 0x05, 0x81, 0x02, 0x75, 0x03, 0x95, 0x01, 0x81, 0x03, 0xc0}

// numbered describes a game pad with five buttons in reports with an ID.
func numbered(id byte) []byte {
	return []byte{0x05, 0x01, 0x09, 0x05, 0xa1, 0x01, 0x85, id, 0x05, 0x09, 0x19, 0x01, 0x29, 0x05, 0x15, 0x00, 0x25, 0x01,
		0x75, 0x01, 0x95, 0x05, 0x81, 0x02, 0x75, 0x03, 0x95, 0x01, 0x81, 0x03, 0xc0}
}

// word gives two bytes, the low one first.
func word(v uint16) []byte { return []byte{byte(v), byte(v >> 8)} }

// joystick has the panels at buttons 2, 5, 7, 11 and 12, the hat at rest (8) and
// the axes in the middle, where the second trembles.
func joystick(down pad.PanelSet, n uint64) []byte {
	v := uint16(8)
	for i, button := range []int{2, 5, 7, 11, 12} {
		if down.Has(pad.Panel(i)) {
			v |= 1 << (4 + button - 1)
		}
	}
	return append(word(v), 0x80, 0x7f+byte(n&1))
}

// analogue gives a byte a panel: about 24 at rest, drifting by 6, about 170
// under a foot, with noise of ±3.
func analogue(down pad.PanelSet, n uint64) []byte {
	b := make([]byte, 5)
	for i := range b {
		h := (n*5 + uint64(i) + 1) * 0x9e3779b97f4a7c15 // Weyl's sequence by the golden ratio, as noise
		v := 24 + int(n/1000%7) + int(h>>60)%7 - 3
		if down.Has(pad.Panel(i)) {
			v += 146
		}
		b[i] = byte(v)
	}
	return b
}
