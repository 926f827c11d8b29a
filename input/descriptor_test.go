package input_test

import (
	"errors"
	"testing"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

func TestTenButtonDescriptor(t *testing.T) {
	d, err := input.ParseDescriptor(tenButtons)
	if err != nil {
		t.Fatal(err)
	}
	if d.Numbered || d.Bytes(0) != 2 || !d.IsController() || len(d.Fields) != 11 {
		t.Errorf("numbered %v, %d bytes, controller %v, %d fields", d.Numbered, d.Bytes(0), d.IsController(), len(d.Fields))
	}
	b := d.Buttons()
	if len(b) != 10 {
		t.Fatalf("%d buttons", len(b))
	}
	for i, s := range b {
		if s.Offset != i/8 || s.Mask != 1<<(i%8) || s.ActiveLow || s.Report != 0 || s.Panel != pad.NoPanel {
			t.Errorf("button %d: %+v", i+1, s)
		}
	}
	if f := d.Fields[10]; !f.Padding || f.Bit != 10 || f.Size != 6 {
		t.Errorf("padding: %+v", f)
	}
	if _, err := input.Propose(pad.Single, oneDevice(), []*input.Descriptor{d}); err != nil {
		t.Error(err)
	}
}

// The boot mouse of HID 1.11, appendix E.10 (bytes from memory): three buttons,
// five bits of padding, two signed bytes.
func TestBootMouseDescriptor(t *testing.T) {
	d, err := input.ParseDescriptor([]byte{
		0x05, 0x01, 0x09, 0x02, 0xa1, 0x01, 0x09, 0x01, 0xa1, 0x00, 0x05, 0x09, 0x19, 0x01, 0x29, 0x03, 0x15, 0x00, 0x25, 0x01,
		0x95, 0x03, 0x75, 0x01, 0x81, 0x02, 0x95, 0x01, 0x75, 0x05, 0x81, 0x01, 0x05, 0x01, 0x09, 0x30, 0x09, 0x31,
		0x15, 0x81, 0x25, 0x7f, 0x75, 0x08, 0x95, 0x02, 0x81, 0x06, 0xc0, 0xc0,
	})
	if err != nil {
		t.Fatal(err)
	}
	if d.Bytes(0) != 3 || len(d.Buttons()) != 3 || d.IsController() {
		t.Errorf("%d bytes, %d buttons, controller %v", d.Bytes(0), len(d.Buttons()), d.IsController())
	}
	x, y := d.Fields[4], d.Fields[5]
	if x.Page != input.PageDesktop || x.Usage != 0x30 || x.Bit != 8 || x.Size != 8 || x.Min != -127 || x.Max != 127 || y.Usage != 0x31 || y.Bit != 16 {
		t.Errorf("axes %+v %+v", x, y)
	}
	if _, err := input.Propose(pad.Single, oneDevice(), []*input.Descriptor{d}); err == nil {
		t.Error("three buttons were taken for five panels")
	}
}

// The boot keyboard of HID 1.11, appendix B.1 (bytes from memory): eight
// modifiers, a constant byte, LEDs as output, six keys as an array.
func TestBootKeyboardDescriptor(t *testing.T) {
	d, err := input.ParseDescriptor([]byte{
		0x05, 0x01, 0x09, 0x06, 0xa1, 0x01, 0x05, 0x07, 0x19, 0xe0, 0x29, 0xe7, 0x15, 0x00, 0x25, 0x01, 0x75, 0x01, 0x95, 0x08, 0x81, 0x02,
		0x95, 0x01, 0x75, 0x08, 0x81, 0x01, 0x95, 0x05, 0x75, 0x01, 0x05, 0x08, 0x19, 0x01, 0x29, 0x05, 0x91, 0x02, 0x95, 0x01, 0x75, 0x03, 0x91, 0x01,
		0x95, 0x06, 0x75, 0x08, 0x15, 0x00, 0x25, 0x65, 0x05, 0x07, 0x19, 0x00, 0x29, 0x65, 0x81, 0x00, 0xc0,
	})
	if err != nil {
		t.Fatal(err)
	}
	if d.Bytes(0) != 8 || len(d.Buttons()) != 0 || d.IsController() || len(d.Fields) != 15 {
		t.Errorf("%d bytes, %d buttons, %d fields", d.Bytes(0), len(d.Buttons()), len(d.Fields))
	}
	if f := d.Fields[0]; f.Page != 7 || f.Usage != 0xe0 {
		t.Errorf("first modifier %+v", f)
	}
	if f := d.Fields[14]; !f.Array || f.Bit != 56 {
		t.Errorf("last key %+v", f)
	}
}

// Two report IDs, push and pop, a hat of four bits, usages with their page.
func TestNumberedDescriptor(t *testing.T) {
	d, err := input.ParseDescriptor([]byte{
		0x05, 0x01, 0x09, 0x04, 0xa1, 0x01,
		0x85, 0x01, 0x09, 0x39, 0x15, 0x00, 0x25, 0x07, 0x75, 0x04, 0x95, 0x01, 0x81, 0x42, // hat with a null state
		0xa4, 0x05, 0x09, 0x19, 0x01, 0x29, 0x04, 0x25, 0x01, 0x75, 0x01, 0x95, 0x04, 0x81, 0x02, 0xb4, // push, four buttons, pop
		0x09, 0x30, 0x26, 0xff, 0x00, 0x75, 0x08, 0x81, 0x02, // X, 0 to 255; the count of 1 came back with the pop
		0x85, 0x02, 0x0b, 0x01, 0x00, 0x09, 0x00, 0x25, 0x01, 0x75, 0x01, 0x81, 0x02, // a button by its full usage
		0xc0,
	})
	if err != nil {
		t.Fatal(err)
	}
	if !d.Numbered || d.Bytes(1) != 3 || d.Bytes(2) != 2 {
		t.Fatalf("numbered %v, %d and %d bytes", d.Numbered, d.Bytes(1), d.Bytes(2))
	}
	if f := d.Fields[0]; f.Usage != input.UsageHat || f.Bit != 8 || f.Size != 4 {
		t.Errorf("hat %+v", f)
	}
	if f := d.Fields[5]; f.Usage != 0x30 || f.Bit != 16 || f.Max != 255 || f.Page != input.PageDesktop {
		t.Errorf("axis %+v", f)
	}
	b := d.Buttons()
	if len(b) != 5 || b[0].Report != 1 || b[0].Offset != 1 || b[0].Mask != 0x10 || b[4].Report != 2 || b[4].Offset != 1 || b[4].Mask != 1 {
		t.Errorf("buttons %+v", b)
	}
}

func TestMalformedDescriptors(t *testing.T) {
	for name, c := range map[string]struct {
		desc   []byte
		offset int
	}{
		"cut item":          {[]byte{0x05}, 0},
		"cut long item":     {[]byte{0x05, 0x01, 0xfe, 0x05, 0x00}, 2},
		"end first":         {[]byte{0xc0}, 0},
		"no end":            {[]byte{0xa1, 0x01}, 2},
		"pop first":         {[]byte{0xb4}, 0},
		"report ID 0":       {[]byte{0x85, 0x00}, 0},
		"usages backwards":  {[]byte{0x19, 0x05, 0x29, 0x01}, 2},
		"endless usages":    {[]byte{0x19, 0x00, 0x2b, 0xff, 0xff, 0xff, 0xff}, 2},
		"huge report":       {[]byte{0x76, 0xff, 0xff, 0x96, 0xff, 0xff, 0x81, 0x02}, 6},
		"huge count":        {[]byte{0x75, 0x01, 0x97, 0xff, 0xff, 0xff, 0xff, 0x81, 0x02}, 7},
		"ID after an input": {[]byte{0x75, 0x01, 0x95, 0x01, 0x81, 0x02, 0x85, 0x01}, 6},
		"too long":          {make([]byte, input.MaxDescriptorBytes+1), input.MaxDescriptorBytes},
	} {
		_, err := input.ParseDescriptor(c.desc)
		var de *input.DescriptorError
		if !errors.As(err, &de) || de.Offset != c.offset {
			t.Errorf("%s: %v, want one at byte %d", name, err, c.offset)
		}
	}
	if d, err := input.ParseDescriptor(nil); err != nil || len(d.Fields) != 0 {
		t.Errorf("an empty descriptor: %v", err)
	}
}

func FuzzParseDescriptor(f *testing.F) {
	f.Add(tenButtons)
	f.Add([]byte{0x85, 0x01, 0x75, 0x08, 0x95, 0x02, 0x81, 0x02})
	f.Add([]byte{0xfe, 0x00, 0x00, 0xa4, 0xb4})
	f.Fuzz(func(t *testing.T, desc []byte) {
		d, err := input.ParseDescriptor(desc)
		if err != nil {
			return
		}
		for _, fd := range d.Fields {
			if fd.Size <= 0 || fd.Bit < 0 || fd.Bit+fd.Size > 8*(input.MaxReportBytes+1) || (fd.Report != 0) != d.Numbered {
				t.Fatalf("field %+v", fd)
			}
		}
		for _, s := range d.Buttons() {
			if s.Offset >= d.Bytes(s.Report) {
				t.Fatalf("button %+v outside its report of %d bytes", s, d.Bytes(s.Report))
			}
		}
		if m, err := input.Propose(pad.Single, oneDevice(), []*input.Descriptor{d}); err == nil {
			if _, err := input.NewDecoder(m); err != nil {
				t.Fatal(err)
			}
		}
	})
}
