package evdev

import (
	"context"
	"errors"
	"fmt"
	"os"
	"sync"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// Times of the reading loop.
const (
	readWait  = 20 * time.Millisecond // a stop is seen as late as that
	findAgain = 50 * time.Millisecond // between two looks for a device that was unplugged
)

// Requests to an event device (linux/input.h; the numbers are made as by
// _IOC of asm-generic/ioctl.h: direction, size, 'E', number).
const (
	setClock = 1<<30 | 4<<16 | 'E'<<8 | 0xa0             // EVIOCSCLOCKID
	getKeys  = 2<<30 | (keyCount/8)<<16 | 'E'<<8 | 0x18  // EVIOCGKEY
	getBits  = 2<<30 | 8<<16 | 'E'<<8 | (0x20 + typeAbs) // EVIOCGBIT of the axes
	getAxis  = 2<<30 | 24<<16 | 'E'<<8 | 0x40            // EVIOCGABS, to be added the axis
)

// ErrUnplugged is wrapped by the error of a device that went away while it was heard.
var ErrUnplugged = errors.New("the pad was unplugged or failed")

// file is an open event device.
type file struct {
	f *os.File
	// ask puts a request to the device.
	ask   func(request uint, arg unsafe.Pointer) error
	state state
	buf   [64 * eventBytes]byte
}

// eventBytes is the size of a struct input_event: its time is two words of the machine.
const eventBytes = int(2*unsafe.Sizeof(uintptr(0))) + 8

// open opens an event device and has its events stamped on the monotonic clock.
func open(path string) (*file, error) {
	f, err := os.OpenFile(path, os.O_RDONLY|unix.O_NONBLOCK, 0)
	if err != nil {
		return nil, err
	}
	d := &file{f: f, ask: func(request uint, arg unsafe.Pointer) error { return control(f, request, arg) }}
	clock := int32(unix.CLOCK_MONOTONIC)
	if err = d.ask(setClock, unsafe.Pointer(&clock)); err == nil {
		err = d.sync()
	}
	if err != nil {
		f.Close()
		return nil, err
	}
	return d, nil
}

// control puts a request to a device (ioctl(2)).
func control(f *os.File, request uint, arg unsafe.Pointer) error {
	c, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var e unix.Errno
	if err := c.Control(func(fd uintptr) { _, _, e = unix.Syscall(unix.SYS_IOCTL, fd, uintptr(request), uintptr(arg)) }); err != nil {
		return err
	}
	if e != 0 {
		return e
	}
	return nil
}

// sync reads the device's state.
func (d *file) sync() error {
	clear(d.state.report[:])
	if err := d.ask(getKeys, unsafe.Pointer(&d.state.report[0])); err != nil {
		return err
	}
	var axes uint64
	if err := d.ask(getBits, unsafe.Pointer(&axes)); err != nil {
		return err
	}
	for code := range absCount {
		if axes>>code&1 == 0 {
			continue
		}
		var info [6]int32 // value, minimum, maximum, fuzz, flat, resolution
		if err := d.ask(getAxis+uint(code), unsafe.Pointer(&info)); err != nil {
			return err
		}
		d.state.axis(code, info[0])
	}
	return nil
}

// read waits until something comes or wait is over, and calls each for each
// whole report, with its stamp in microseconds of the monotonic clock; lost
// tells that events before it are missing.
func (d *file) read(wait time.Duration, each func(us int64, lost bool)) error {
	if err := d.f.SetReadDeadline(time.Now().Add(wait)); err != nil {
		return err
	}
	n, err := d.f.Read(d.buf[:])
	if errors.Is(err, os.ErrDeadlineExceeded) {
		return nil
	}
	if err != nil {
		return err
	}
	for b := d.buf[:n]; len(b) >= eventBytes; b = b[eventBytes:] {
		e := decode(b)
		switch d.state.take(e) {
		case whole:
			each(e.us, false)
		case broken:
			// The rest is older than the state that is read now.
			if err := d.drain(); err != nil {
				return err
			}
			if err := d.sync(); err != nil {
				return err
			}
			each(monotonic(), true)
			return nil
		}
	}
	return nil
}

// drain takes away the events that wait. The system itself takes away but some of
// them when it is asked for its state, and of a key whose release was among
// these only the press would be left.
func (d *file) drain() error {
	c, err := d.f.SyscallConn()
	if err != nil {
		return err
	}
	var failed error
	err = c.Control(func(fd uintptr) {
		for {
			n, err := unix.Read(int(fd), d.buf[:])
			switch {
			case err == unix.EINTR:
			case err == unix.EAGAIN || err == nil && n == 0:
				return
			case err != nil:
				failed = err
				return
			}
		}
	})
	return errors.Join(err, failed)
}

// decode reads a struct input_event.
func decode(b []byte) event {
	word := unsafe.Sizeof(uintptr(0))
	time := func(at uintptr) int64 {
		if word == 4 {
			return int64(*(*uint32)(unsafe.Pointer(&b[at])))
		}
		return *(*int64)(unsafe.Pointer(&b[at]))
	}
	at := 2 * word
	return event{us: 1e6*time(0) + time(word), kind: *(*uint16)(unsafe.Pointer(&b[at])), num: *(*uint16)(unsafe.Pointer(&b[at+2])),
		value: *(*int32)(unsafe.Pointer(&b[at+4]))}
}

// offset gives what is added to a stamp of the monotonic clock to get a moment
// of the run's. Both run alike; the shortest of some looks at both tells.
func offset(clock input.Clock) pad.Time {
	best, shortest := pad.Time(0), pad.Never
	for range 8 {
		before := clock.Now()
		us := monotonic()
		after := clock.Now()
		if took := after - before; took < shortest {
			shortest, best = took, before+took/2-pad.Time(us)
		}
	}
	return best
}

// monotonic gives the time of the clock that the kernel stamps with, in microseconds.
func monotonic() int64 {
	var t unix.Timespec
	_ = unix.ClockGettime(unix.CLOCK_MONOTONIC, &t) // it cannot fail for this clock
	return t.Nano() / 1000
}

// Reader hears one or two devices, as usb.Reader reads them.
type Reader struct {
	Devices []input.Identity
	// Reconnect is how long a device that went away is looked for; 0: not at all.
	Reconnect time.Duration
	// Opened is called after a device was opened, Idle after each look that gave
	// nothing, Dropped before a report before which events are missing. None is
	// called at once with another; each may be nil.
	Opened  func(t pad.Time, device int, again bool)
	Idle    func(t pad.Time)
	Dropped func(t pad.Time, device int)
}

// Run hears the devices until ctx ends (nil), one goes away (an error that wraps
// ErrUnplugged) or cannot be opened (a *Lacking), or each fails. each gets a
// report whenever a device's state has changed, and at first its state as it is
// opened, with the kernel's stamp on the run's clock; the report is good until
// each returns.
func (r *Reader) Run(ctx context.Context, clock input.Clock, each func(t pad.Time, device int, report []byte) error) error {
	if len(r.Devices) == 0 || len(r.Devices) > input.MaxDevices {
		return fmt.Errorf("a pad is made of 1 to %d devices, not of %d", input.MaxDevices, len(r.Devices))
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	var mu sync.Mutex
	var wg sync.WaitGroup
	errs := make([]error, len(r.Devices))
	for i := range r.Devices {
		wg.Go(func() {
			if errs[i] = r.device(ctx, clock, i, &mu, each); errs[i] != nil {
				stop()
			}
		})
	}
	wg.Wait()
	return errors.Join(errs...)
}

// device hears a device, and again where it went away and comes back in time.
func (r *Reader) device(ctx context.Context, clock input.Clock, i int, mu *sync.Mutex, each func(pad.Time, int, []byte) error) error {
	d, err := find(r.Devices[i])
	if err != nil {
		return err
	}
	for again := false; ; again = true {
		failed, err := r.hear(ctx, clock, d, i, again, mu, each)
		d.f.Close()
		if err != nil || ctx.Err() != nil {
			return err
		}
		until := time.Now().Add(r.Reconnect)
		for d = nil; d == nil; {
			if !time.Now().Before(until) {
				return fmt.Errorf("%s: %w (%v)", r.Devices[i], ErrUnplugged, failed)
			}
			select {
			case <-ctx.Done():
				return nil
			case <-time.After(findAgain):
			}
			d, _ = find(r.Devices[i]) // what is wrong with it meanwhile may pass
		}
	}
}

// find opens the device with an identity.
func find(id input.Identity) (*file, error) {
	list, err := List()
	if err != nil {
		return nil, err
	}
	found, err := Find(list, id)
	if err != nil {
		return nil, err
	}
	if found.Closed != nil {
		return nil, found.Closed
	}
	d, err := open(found.Path)
	if err != nil {
		return nil, &Lacking{fmt.Sprintf("%s (%s) cannot be opened: %v", id, found.Path, err)}
	}
	return d, nil
}

// hear hears an open device until ctx ends, it fails (failed) or each does (err).
func (r *Reader) hear(ctx context.Context, clock input.Clock, d *file, i int, again bool, mu *sync.Mutex, each func(pad.Time, int, []byte) error) (failed, err error) {
	zero := offset(clock)
	now := clock.Now()
	mu.Lock()
	if r.Opened != nil {
		r.Opened(now, i, again)
	}
	err = each(now, i, d.state.report[:])
	mu.Unlock()
	for err == nil && ctx.Err() == nil {
		came := false
		failed := d.read(readWait, func(us int64, lost bool) {
			t := pad.Time(us) + zero
			came = true
			mu.Lock()
			defer mu.Unlock()
			if lost && r.Dropped != nil {
				r.Dropped(t, i)
			}
			err = errors.Join(err, each(t, i, d.state.report[:]))
		})
		if failed != nil {
			return failed, err
		}
		if !came && r.Idle != nil {
			mu.Lock()
			r.Idle(clock.Now())
			mu.Unlock()
		}
	}
	return nil, err
}
