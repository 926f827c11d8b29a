package bench_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/usb/bench"
)

// unit is a device that a trial plugs in and plays.
type unit interface {
	identity() input.Identity
	name() string
	panels() pad.PanelSet
	interval() time.Duration
	plug() error // into a port other than the last
	unplug() error
	// play presses. It may return before the script is over.
	play(script []bench.Change) error
	// sent gives what the host took since the last call, and how many reports
	// the device could not get rid of.
	sent() (edges []edge, missed uint64)
}

// made is a device of this package's.
type made struct {
	*bench.Device
	ports *int // the next one to use
}

func (m *made) identity() input.Identity { return m.Model.Identity() }
func (m *made) name() string             { return m.Model.Name }
func (m *made) unplug() error            { m.Unplug(); return nil }
func (m *made) interval() time.Duration  { return time.Duration(m.Model.Interval) * time.Millisecond }

func (m *made) panels() pad.PanelSet {
	var s pad.PanelSet
	for _, p := range m.Model.Parts {
		s |= p.Panels
	}
	return s
}

func (m *made) plug() error {
	const ports = 8
	for range ports {
		port := *m.ports
		*m.ports = (port + 1) % ports
		if bench.Free(port) {
			return m.Plug(port)
		}
	}
	return fmt.Errorf("no port is free")
}

func (m *made) play(script []bench.Change) error { m.Play(script); return nil }

func (m *made) sent() (edges []edge, missed uint64) {
	last := pad.PanelSet(0)
	frame := uint64(0)
	for i, r := range m.Sent() {
		now := last&^m.Model.Parts[r.Part].Panels | r.Down
		for p := range (last &^ now).All() {
			edges = append(edges, edge{r.At, p, false})
		}
		for p := range (now &^ last).All() {
			edges = append(edges, edge{r.At, p, true})
		}
		if m.Model.Repeats && i > 0 {
			missed += r.Frame - frame - 1
		}
		last, frame = now, r.Frame
	}
	return edges, missed
}

// keys is QEMU's USB keyboard: a device that nobody here wrote. Its panels are
// keys, pressed through QEMU's monitor. The answers come in the time of the
// machine outside, so that its edges have no times.
type keys struct {
	codes  []string // by panel, as QEMU calls them
	plugs  int
	edges  []edge
	down   pad.PanelSet
	inside bool // it is plugged in
}

// Modifier keys are bits in the keyboard's reports; others are numbers in a
// list (HID 1.11, appendix B.1), which only the kernel makes keys of.
var (
	modifiers = []string{"ctrl", "shift", "alt", "ctrl_r", "shift_r"}
	letters   = []string{"r", "f", "spc", "u", "j"}
)

func (k *keys) identity() input.Identity {
	return input.Identity{Vendor: 0x0627, Product: 1, Serial: "K1"}
}
func (k *keys) name() string            { return "QEMU USB Keyboard" }
func (k *keys) panels() pad.PanelSet    { return pad.SetOf(0, 1, 2, 3, 4) }
func (k *keys) interval() time.Duration { return 8 * time.Millisecond }

func (k *keys) plug() error {
	k.plugs++
	k.inside, k.down = true, 0
	return monitor(fmt.Sprintf(`{"execute":"device_add","arguments":{"driver":"usb-kbd","id":"kbd%d","bus":"xhci.0","port":"%d","serial":"K1"}}`, k.plugs, 1+k.plugs%4))
}

func (k *keys) unplug() error {
	if !k.inside {
		return nil
	}
	k.inside = false
	return monitor(fmt.Sprintf(`{"execute":"device_del","arguments":{"id":"kbd%d"}}`, k.plugs))
}

func (k *keys) play(script []bench.Change) error {
	for _, c := range script {
		bench.SleepUntil(c.At)
		var events []string
		turn := func(p pad.Panel, down bool) {
			events = append(events, fmt.Sprintf(`{"type":"key","data":{"down":%v,"key":{"type":"qcode","data":"%s"}}}`, down, k.codes[p]))
			k.edges = append(k.edges, edge{unknown, p, down})
		}
		for p := range (k.down &^ c.Down).All() {
			turn(p, false)
		}
		for p := range (c.Down &^ k.down).All() {
			turn(p, true)
		}
		k.down = c.Down
		if err := monitor(`{"execute":"input-send-event","arguments":{"events":[` + strings.Join(events, ",") + `]}}`); err != nil {
			return err
		}
	}
	return nil
}

func (k *keys) sent() (edges []edge, missed uint64) {
	edges, k.edges = k.edges, nil
	return edges, 0
}

const sysDevices = "/sys/bus/usb/devices/"

// line reads a file of one line.
func line(file string) string {
	b, err := os.ReadFile(file)
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(b))
}

// busID gives the kernel's name for a device that is plugged in, or "".
func busID(u unit) string {
	id := u.identity()
	files, _ := filepath.Glob(sysDevices + "*/idProduct")
	for _, f := range files {
		dir := filepath.Dir(f)
		if line(f) == fmt.Sprintf("%04x", id.Product) && line(dir+"/idVendor") == fmt.Sprintf("%04x", id.Vendor) && line(dir+"/serial") == id.Serial {
			return filepath.Base(dir)
		}
	}
	return ""
}

// driver gives the driver of a device's interface, or "".
func driver(u unit) string {
	l, err := os.Readlink(sysDevices + busID(u) + ":1.0/driver")
	if err != nil {
		return ""
	}
	return filepath.Base(l)
}

// node gives the device file of a device, or "".
func node(u unit) string {
	dir := sysDevices + busID(u)
	var bus, num int
	if _, err := fmt.Sscan(line(dir+"/busnum"), &bus); err != nil {
		return ""
	}
	if _, err := fmt.Sscan(line(dir+"/devnum"), &num); err != nil {
		return ""
	}
	file := fmt.Sprintf("/dev/bus/usb/%03d/%03d", bus, num)
	if _, err := os.Stat(file); err != nil {
		return ""
	}
	return file
}

// permit lets the player open a device, as the system does by the udev rule.
func permit(u unit) error { return os.Chown(node(u), player, player) }

// hasGone tells whether the system has taken the device away.
func hasGone(u unit) func() bool { return func() bool { return busID(u) == "" } }

// isThere tells whether the system has a driver for the device.
func isThere(u unit) func() bool {
	return func() bool { return driver(u) == "usbhid" && node(u) != "" }
}

// isRead tells whether a program reads the device: the kernel's driver has let it go.
func isRead(u unit) func() bool {
	return func() bool { return busID(u) != "" && driver(u) != "usbhid" }
}
