package evdev

import (
	"fmt"
	"math/bits"
	"slices"

	"heeltoe/input"
)

// First codes of buttons (linux/input-event-codes.h), by what the device says
// that it is, and of those after the sixteenth (hid_configure_usage in the
// kernel's drivers/hid/hid-input.c).
const (
	btnJoystick     = 0x120
	btnGamepad      = 0x130
	btnTriggerHappy = 0x2c0
)

// Translate gives the map by events of a pad that was taught by its HID reports:
// each panel must be a button of a joystick or a game pad, as the descriptors of
// its devices have it. descs may hold nil.
func Translate(m *input.Map, descs []*input.Descriptor) (*input.Map, error) {
	out := &input.Map{Layout: m.Layout, Devices: slices.Clone(m.Devices)}
	for i := range out.Devices {
		out.Devices[i].Road = input.Events
	}
	for _, s := range m.Sensors {
		code, err := keyOf(&s, descs[s.Device])
		if err != nil {
			return nil, fmt.Errorf("%s: %w", m.Layout.ID(s.Panel), err)
		}
		out.Sensors = append(out.Sensors, input.Sensor{Panel: s.Panel, Device: s.Device,
			Offset: code / 8, Mask: 1 << (code % 8), ActiveLow: s.ActiveLow})
	}
	return out, out.Check()
}

// keyOf gives the kernel's key for a sensor.
func keyOf(s *input.Sensor, d *input.Descriptor) (int, error) {
	if d == nil || s.Format != input.Bits || bits.OnesCount8(s.Mask) != 1 {
		return 0, fmt.Errorf("it is not one button of a descriptor")
	}
	at := 8*s.Offset + bits.TrailingZeros8(s.Mask)
	for _, f := range d.Fields {
		if f.Report != s.Report || f.Bit != at || f.Size != 1 || f.Page != input.PageButton || f.Usage == 0 || f.Padding {
			continue
		}
		first := 0
		switch f.Collection {
		case input.PageDesktop<<16 | input.UsageJoystick:
			first = btnJoystick
		case input.PageDesktop<<16 | input.UsageGamePad:
			first = btnGamepad
		default:
			return 0, fmt.Errorf("its device is neither a joystick nor a game pad")
		}
		code := int(f.Usage) - 1
		if code > 0xf {
			first, code = btnTriggerHappy, code-0x10
		}
		if code += first; code >= keyCount {
			return 0, fmt.Errorf("the system has no key for button %d", f.Usage)
		}
		return code, nil
	}
	return 0, fmt.Errorf("it is not a button of the descriptor")
}
