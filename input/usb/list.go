// Package usb reads pads over USB HID. It is the only importer of the HID
// library: it lists devices, says why one cannot be opened, and reads their
// reports as a source of edges.
//
// The library reads the device on a thread of its own into a queue of 32
// reports, from which it drops the oldest without a word when it is full: at
// 1000 Hz that is after 32 ms in which nobody read. The reading goroutine
// therefore does nothing but stamp, decode and hand over, which in a run is to judge, in
// microseconds; and an input.Watch tells where it came too late for what may be lost. Building needs cgo and a C compiler
// (Debian: gcc and libc6-dev); libusb is compiled in (LGPL 2.1).
package usb

import (
	"cmp"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/karalabe/hid"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// Device is a HID device that is plugged in.
type Device struct {
	input.Identity
	Path         string // the system's name of the device; it changes when it is plugged in again
	Manufacturer string
	Name         string
	Descriptor   *input.Descriptor // its reports, nil where the system does not tell
	Raw          []byte            // its report descriptor, nil where the system does not tell
	Interval     pad.Time          // between two reports at the least, 0 where the system does not tell
	// Closed is why the device cannot be opened, with what to do about it, or
	// nil where it can as far as one can tell without trying.
	Closed error

	node string // device file, on Linux
}

// Lacking is what the machine lacks to read a pad, and what to do about it.
type Lacking struct{ Msg string }

func (e *Lacking) Error() string { return e.Msg }

// Supported tells whether this build can read HID devices at all. One without
// cgo cannot.
func Supported() bool { return hid.Supported() }

var errUnsupported = &Lacking{"this build cannot read USB devices: it was made without cgo, or for a system that the HID library does not know; " +
	"build it with CGO_ENABLED=1 and a C compiler (Debian: gcc and libc6-dev)"}

// List gives the HID devices that are plugged in, by identity. It gives a
// *Lacking where this build cannot read any. It opens each device for a moment
// and takes up to 30 ms for each: never during a run.
func List() ([]Device, error) {
	if !Supported() {
		return nil, errUnsupported
	}
	infos, err := hid.Enumerate(0, 0)
	if err != nil {
		return nil, fmt.Errorf("the USB devices cannot be listed: %w", err)
	}
	return describe(infos, system()), nil
}

// describe completes what the library tells by what the system does.
func describe(infos []hid.DeviceInfo, sys tree) []Device {
	out := make([]Device, 0, len(infos))
	for _, i := range infos {
		d := Device{Identity: input.Identity{Vendor: i.VendorID, Product: i.ProductID, Serial: i.Serial, Interface: max(i.Interface, 0)},
			Path: i.Path, Manufacturer: i.Manufacturer, Name: i.Product}
		sys.complete(&d)
		out = append(out, d)
	}
	slices.SortStableFunc(out, func(a, b Device) int {
		return cmp.Or(cmp.Compare(a.Vendor, b.Vendor), cmp.Compare(a.Product, b.Product), cmp.Compare(a.Serial, b.Serial),
			cmp.Compare(a.Interface, b.Interface), cmp.Compare(a.Path, b.Path))
	})
	return out
}

// tree is where the system tells of USB devices. The zero value tells nothing.
type tree struct {
	sys string // /sys/bus/usb/devices
	dev string // /dev/bus/usb
}

// system gives the tree of this machine.
func system() tree {
	if runtime.GOOS != "linux" {
		return tree{}
	}
	return tree{sys: "/sys/bus/usb/devices", dev: "/dev/bus/usb"}
}

// complete fills in what the library cannot tell: it leaves names and serial
// number blank where it may not open the device, and it never gives the report
// descriptor.
func (s tree) complete(d *Device) {
	// The library names a device as the kernel does: "1-2.3:1.0".
	name, _, ok := strings.Cut(d.Path, ":")
	if s.sys == "" || !ok || name == "" || strings.ContainsAny(d.Path, "/\x00") {
		return
	}
	dir := filepath.Join(s.sys, name)
	line := func(file string) string {
		b, err := os.ReadFile(filepath.Join(dir, file))
		if err != nil {
			return ""
		}
		return strings.TrimSpace(string(b))
	}
	d.Manufacturer = cmp.Or(d.Manufacturer, line("manufacturer"))
	d.Name = cmp.Or(d.Name, line("product"))
	d.Serial = cmp.Or(d.Serial, line("serial"))
	if files, err := filepath.Glob(filepath.Join(s.sys, d.Path, "0003:*", "report_descriptor")); err == nil && len(files) > 0 {
		if raw, err := os.ReadFile(files[0]); err == nil && len(raw) > 0 && len(raw) <= input.MaxDescriptorBytes {
			d.Raw = raw
			d.Descriptor, _ = input.ParseDescriptor(raw) // a malformed one is done without
		}
	}
	d.Interval = s.interval(d.Path)
	bus, err1 := strconv.Atoi(line("busnum"))
	num, err2 := strconv.Atoi(line("devnum"))
	if err1 != nil || err2 != nil {
		return
	}
	d.node = filepath.Join(s.dev, fmt.Sprintf("%03d", bus), fmt.Sprintf("%03d", num))
	f, err := os.OpenFile(d.node, os.O_RDWR, 0)
	if err == nil {
		f.Close()
		return
	}
	d.Closed = closedError(d, d.node, err)
}

// interval gives how often an interface is asked for a report: the shortest
// interval of its endpoints to the host.
func (s tree) interval(path string) pad.Time {
	files, err := filepath.Glob(filepath.Join(s.sys, path, "ep_8*", "interval"))
	if err != nil {
		return 0
	}
	least := pad.Time(0)
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			continue
		}
		// As in "1ms" or "125us".
		if d, err := time.ParseDuration(strings.TrimSpace(string(text))); err == nil && d > 0 && (least == 0 || pad.FromDuration(d) < least) {
			least = pad.FromDuration(d)
		}
	}
	return least
}

// RulesFile is where the udev rule belongs. It must sort before 73, where the
// system gives devices tagged uaccess to the person at the machine.
const RulesFile = "/etc/udev/rules.d/70-heeltoe.rules"

// Rule gives the udev rule that lets the person at the machine open the device.
func Rule(id input.Identity) string {
	return fmt.Sprintf(`SUBSYSTEM=="usb", ENV{DEVTYPE}=="usb_device", ATTR{idVendor}=="%04x", ATTR{idProduct}=="%04x", TAG+="uaccess"`, id.Vendor, id.Product)
}

func closedError(d *Device, node string, err error) error {
	switch {
	case errors.Is(err, os.ErrPermission):
		return &Lacking{fmt.Sprintf("no permission to open %s (%s): put this line into %s (its name must sort before 73), "+
			"then run udevadm control --reload as root and plug the pad in again\n%s", d.Identity, node, RulesFile, Rule(d.Identity))}
	case errors.Is(err, os.ErrNotExist):
		return &Lacking{fmt.Sprintf("%s has no device file %s: it is being plugged in or out, or, in a container, /dev/bus/usb is not passed through", d.Identity, node)}
	}
	return &Lacking{fmt.Sprintf("%s (%s) cannot be opened: %v", d.Identity, node, err)}
}

// Find gives the device of a list with the identity given. Where id has no
// serial number, or the device tells none, vendor, product and interface must
// do; it is then an error if two devices fit.
func Find(list []Device, id input.Identity) (Device, error) {
	var fits []Device
	for _, d := range list {
		if d.Identity == id {
			return d, nil
		}
		if d.Vendor == id.Vendor && d.Product == id.Product && d.Interface == id.Interface && (id.Serial == "" || d.Serial == "") {
			fits = append(fits, d)
		}
	}
	switch len(fits) {
	case 1:
		return fits[0], nil
	case 0:
		return Device{}, &Lacking{fmt.Sprintf("the pad %s is not plugged in; heeltoe pads list shows what is", id)}
	}
	return Device{}, &Lacking{fmt.Sprintf("%d devices are %s and nothing tells them apart: unplug all but one", len(fits), id)}
}
