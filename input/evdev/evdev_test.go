package evdev

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// Codes of linux/input-event-codes.h.
const (
	keySpace = 57
	btnSouth = 0x130 // the first of a game pad
	absX     = 0x00
)

// Whatever keys go up and down, the report has those that are down, and nothing
// of what came while events were missing.
func TestStateFollowsEvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s state
		down := map[uint16]bool{}
		dropped := false
		for range rapid.IntRange(1, 100).Draw(t, "events") {
			e := event{kind: rapid.SampledFrom([]uint16{typeSyn, typeKey, typeKey, typeKey, 4}).Draw(t, "kind"),
				num:   rapid.SampledFrom([]uint16{0, 1, 3, keySpace, btnSouth, keyCount - 1, keyCount, 0xffff}).Draw(t, "num"),
				value: rapid.Int32Range(0, 2).Draw(t, "value")}
			got := s.take(e)
			want := more
			switch {
			case e.kind == typeSyn && e.num == synDropped:
				dropped = true
			case e.kind == typeSyn && e.num == synReport && dropped:
				want, dropped = broken, false
			case e.kind == typeSyn && e.num == synReport:
				want = whole
			case e.kind == typeKey && e.num < keyCount && !dropped:
				down[e.num] = e.value != 0
			}
			if got != want {
				t.Fatalf("%+v gives %d, want %d", e, got, want)
			}
		}
		for code := range uint16(keyCount) {
			if is := s.report[code/8]>>(code%8)&1 != 0; is != down[code] {
				t.Fatalf("key %d is %v", code, is)
			}
		}
	})
}

func FuzzState(f *testing.F) {
	f.Add([]byte{1, 48, 1, 0, 0, 0})
	f.Fuzz(func(t *testing.T, b []byte) {
		var s state
		for ; len(b) >= 3; b = b[3:] {
			s.take(event{kind: uint16(b[0] % 4), num: uint16(b[1]) << (b[0] / 64), value: int32(b[2]) << 12})
		}
	})
}

// An axis is a word that a teacher reads as a value; what does not fit is cut.
func TestAxes(t *testing.T) {
	for v, want := range map[int32]int32{0: 0, 127: 127, -5: -5, 1 << 20: 1<<15 - 1, -1 << 20: -1 << 15} {
		var s state
		s.take(event{kind: typeAbs, num: absX, value: v})
		if got, ok := (&input.Sensor{Format: input.S16, Offset: keyCount / 8}).Value(s.report[:]); !ok || got != want {
			t.Errorf("axis at %d is read as %d", v, got)
		}
	}
}

// The kernel makes keys 304 to 313 of a game pad's ten buttons, and 288 and on of
// a joystick's (hid-input.c and input-event-codes.h of the kernel).
func TestTranslate(t *testing.T) {
	buttons := func(top, n byte) *input.Descriptor {
		d, err := input.ParseDescriptor([]byte{0x05, 0x01, 0x09, top, 0xa1, 0x01, 0x05, 0x09, 0x19, 0x01, 0x29, n, 0x15, 0x00, 0x25, 0x01,
			0x75, 0x01, 0x95, n, 0x81, 0x02, 0xc0})
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	m := &input.Map{Layout: pad.Single, Devices: make([]input.Device, 1)}
	for p, button := range []int{1, 2, 10, 16, 17} {
		m.Sensors = append(m.Sensors, input.Sensor{Panel: pad.Panel(p), Offset: (button - 1) / 8, Mask: 1 << ((button - 1) % 8)})
	}
	for top, want := range map[byte][]int{input.UsageGamePad: {304, 305, 313, 319, 704}, input.UsageJoystick: {288, 289, 297, 303, 704}} {
		got, err := Translate(m, []*input.Descriptor{buttons(top, 24)})
		if err != nil {
			t.Fatal(err)
		}
		for i, s := range got.Sensors {
			if code := want[i]; s.Offset != code/8 || s.Mask != 1<<(code%8) || s.Panel != m.Sensors[i].Panel || got.Devices[0].Road != input.Events {
				t.Errorf("usage %d, sensor %d is %+v, want key %d", top, i, s, code)
			}
		}
	}
	// What has no key: another kind of device, a value, no descriptor.
	value := *m
	value.Sensors = []input.Sensor{{Panel: 0, Format: input.U8, Press: 100, Release: 50}}
	for name, c := range map[string]struct {
		m *input.Map
		d *input.Descriptor
	}{"a keyboard": {m, buttons(input.UsageKeyboard, 24)}, "a value": {&value, buttons(input.UsageGamePad, 24)},
		"no descriptor": {m, nil}, "too few buttons": {m, buttons(input.UsageGamePad, 5)}} {
		if got, err := Translate(c.m, []*input.Descriptor{c.d}); err == nil {
			t.Errorf("%s: %+v", name, got)
		}
	}
}

// fakeTree lays out what the kernel tells of input devices (sysfs, class input).
func fakeTree(t *testing.T) tree {
	root := t.TempDir()
	s := tree{sys: filepath.Join(root, "class"), dev: filepath.Join(root, "dev")}
	for name, d := range map[string]map[string]string{
		"event3": {"id/bustype": "0003", "id/vendor": "1209", "id/product": "0001", "uniq": "A", "name": "Floor pad", "capabilities/key": "3ff 0", "capabilities/abs": "0"},
		"event4": {"id/bustype": "0019", "id/vendor": "0000", "id/product": "0001", "name": "Power Button", "capabilities/key": "1", "capabilities/abs": "0"},
		"event5": {"id/bustype": "0003", "id/vendor": "1209", "id/product": "0002", "name": "Nothing", "capabilities/key": "0", "capabilities/abs": "0"},
	} {
		// The class folder has links into the tree of devices.
		place := filepath.Join(root, "devices/usb1/1-2/1-2:1.1/0003:1209:0001.0004/input", name)
		for file, text := range d {
			file = filepath.Join(place, file)
			if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(file, []byte(text+"\n"), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if err := os.MkdirAll(filepath.Join(s.sys, name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(place, filepath.Join(s.sys, name, "device")); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

func TestList(t *testing.T) {
	list, err := fakeTree(t).list()
	if err != nil || len(list) != 1 {
		t.Fatalf("%+v, %v", list, err)
	}
	d := list[0]
	if d.Identity != (input.Identity{Vendor: 0x1209, Product: 1, Serial: "A", Interface: 1}) || d.Name != "Floor pad" || filepath.Base(d.Path) != "event3" {
		t.Errorf("listed %+v", d)
	}
	var l *Lacking
	if !errors.As(d.Closed, &l) { // there is no such file
		t.Errorf("closed: %v", d.Closed)
	}
	if err := closedError(&d, os.ErrPermission); !strings.Contains(err.Error(), Rule(d.Identity)) || !strings.Contains(err.Error(), "before 73") {
		t.Errorf("without permission: %v", err)
	}
}

func TestFind(t *testing.T) {
	a := Device{Identity: input.Identity{Vendor: 1, Product: 2, Serial: "A"}, Path: "a"}
	b := Device{Identity: input.Identity{Vendor: 1, Product: 2, Serial: "B"}, Path: "b"}
	for _, c := range []struct {
		list []Device
		id   input.Identity
		path string // "": an error
	}{{[]Device{a, b}, b.Identity, "b"}, {[]Device{a, b}, input.Identity{Vendor: 1, Product: 2}, ""}, {nil, a.Identity, ""},
		{[]Device{a}, b.Identity, ""}, {[]Device{a}, input.Identity{Vendor: 1, Product: 2}, "a"}} {
		d, err := Find(c.list, c.id)
		var l *Lacking
		if d.Path != c.path || (c.path == "") != errors.As(err, &l) {
			t.Errorf("%v of %v: %q, %v", c.id, c.list, d.Path, err)
		}
	}
}
