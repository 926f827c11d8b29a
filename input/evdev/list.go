package evdev

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"heeltoe/input"
)

// Device is an input device with keys or axes.
type Device struct {
	input.Identity
	Path string // its file, /dev/input/event7 say; it changes when it is plugged in again
	Name string
	// Closed is why the file cannot be opened, with what to do about it, or nil.
	Closed error
}

// Lacking is what the machine lacks to hear a device, and what to do about it.
type Lacking struct{ Msg string }

func (e *Lacking) Error() string { return e.Msg }

// tree is where the system tells of input devices.
type tree struct {
	sys string // /sys/class/input
	dev string // /dev/input
}

var system = tree{sys: "/sys/class/input", dev: "/dev/input"}

// Buses whose devices are taken for pads (linux/input.h).
const (
	busUSB       = "0003"
	busBluetooth = "0005"
)

// List gives the devices on USB and Bluetooth that have keys or axes, by
// identity. It opens each for a moment. Where the system is not Linux there are none.
func List() ([]Device, error) { return system.list() }

// inInterface finds the USB interface in a device's place: "…/1-2:1.0/0003:1209:0001.0004/…".
var inInterface = regexp.MustCompile(`:\d+\.(\d+)/`)

func (s tree) list() ([]Device, error) {
	dirs, err := filepath.Glob(filepath.Join(s.sys, "event*"))
	if err != nil {
		return nil, err
	}
	var out []Device
	for _, dir := range dirs {
		line := func(file string) string {
			b, err := os.ReadFile(filepath.Join(dir, "device", file))
			if err != nil {
				return ""
			}
			return strings.TrimSpace(string(b))
		}
		bus := line("id/bustype")
		if bus != busUSB && bus != busBluetooth || line("capabilities/key") == "0" && line("capabilities/abs") == "0" {
			continue
		}
		vendor, err1 := strconv.ParseUint(line("id/vendor"), 16, 16)
		product, err2 := strconv.ParseUint(line("id/product"), 16, 16)
		if err1 != nil || err2 != nil {
			continue
		}
		d := Device{Identity: input.Identity{Vendor: uint16(vendor), Product: uint16(product), Serial: line("uniq")},
			Name: line("name"), Path: filepath.Join(s.dev, filepath.Base(dir))}
		if place, err := filepath.EvalSymlinks(filepath.Join(dir, "device")); err == nil {
			if m := inInterface.FindStringSubmatch(place); m != nil {
				d.Interface, _ = strconv.Atoi(m[1]) // it is digits
			}
		}
		f, err := os.Open(d.Path)
		if err == nil {
			f.Close()
		} else {
			d.Closed = closedError(&d, err)
		}
		out = append(out, d)
	}
	slices.SortStableFunc(out, func(a, b Device) int {
		return cmp.Or(cmp.Compare(a.Vendor, b.Vendor), cmp.Compare(a.Product, b.Product), cmp.Compare(a.Serial, b.Serial),
			cmp.Compare(a.Interface, b.Interface), cmp.Compare(a.Path, b.Path))
	})
	return out, nil
}

// Rule gives the udev rule that lets the person at the machine hear the device.
func Rule(id input.Identity) string {
	return fmt.Sprintf(`SUBSYSTEM=="input", KERNEL=="event*", ATTRS{id/vendor}=="%04x", ATTRS{id/product}=="%04x", TAG+="uaccess"`, id.Vendor, id.Product)
}

func closedError(d *Device, err error) error {
	if errors.Is(err, os.ErrPermission) {
		return &Lacking{fmt.Sprintf("no permission to open %s (%s): put this line into a file of /etc/udev/rules.d whose name sorts before 73, "+
			"then run udevadm control --reload as root and plug the pad in again\n%s", d.Identity, d.Path, Rule(d.Identity))}
	}
	return &Lacking{fmt.Sprintf("%s (%s) cannot be opened: %v", d.Identity, d.Path, err)}
}

// Find gives the device of a list with the identity given; where the device
// tells no serial number, the rest must do. It is an error if two devices fit.
func Find(list []Device, id input.Identity) (Device, error) {
	var fits []Device
	for _, d := range list {
		if d.Vendor == id.Vendor && d.Product == id.Product && d.Interface == id.Interface &&
			(d.Serial == id.Serial || id.Serial == "" || d.Serial == "") {
			fits = append(fits, d)
		}
	}
	switch len(fits) {
	case 1:
		return fits[0], nil
	case 0:
		return Device{}, &Lacking{fmt.Sprintf("no input events of the pad %s: it is not plugged in, or another program reads it over USB", id)}
	}
	return Device{}, &Lacking{fmt.Sprintf("%d input devices are %s and nothing tells them apart: unplug all but one, or use the road hid", len(fits), id)}
}
