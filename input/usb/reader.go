package usb

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"
	"time"

	"github.com/karalabe/hid"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// Times of the reading loop.
const (
	// readWait is how long a read waits for a report; a stop is seen as late as that.
	readWait = 20 * time.Millisecond
	// pairWait is readWait for a pad of two devices, whose edges wait for each other.
	pairWait = 5 * time.Millisecond
	// jitter is how late a reader may come to the lock after it stamped a report.
	jitter = pad.Millisecond
	// findAgain is the time between two looks for a device that was unplugged.
	findAgain = 100 * time.Millisecond
)

// ReconnectTime is how long a plugged-in device takes to be ready, and more.
const ReconnectTime = time.Second

// ErrUnplugged is wrapped by the error of a device that was unplugged, or
// failed in another way, while it was read.
var ErrUnplugged = errors.New("the pad was unplugged or failed")

// port is an open device. All of its methods are called by one goroutine.
type port interface {
	// ReadTimeout waits ms milliseconds for a report; n is 0 where none came, or an empty one.
	ReadTimeout(b []byte, ms int) (n int, err error)
	Close() error
}

// opener finds and opens a device.
type opener func(input.Identity) (port, error)

func openDevice(id input.Identity) (port, error) {
	list, err := List()
	if err != nil {
		return nil, err
	}
	d, err := Find(list, id)
	if err != nil {
		return nil, err
	}
	if d.Closed != nil {
		return nil, d.Closed
	}
	p, err := (hid.DeviceInfo{Path: d.Path, VendorID: d.Vendor, ProductID: d.Product, Serial: d.Serial, Interface: d.Interface}).Open()
	if err != nil {
		return nil, &Lacking{fmt.Sprintf("%s cannot be opened (%v): another program may be reading it", id, err)}
	}
	return &lent{p, d.node, d.Interface}, nil
}

// lent is a device that the kernel's driver gave up. The library gives it back if it was the one to
// take it; so where a program that read the device was killed, nobody would.
type lent struct {
	port
	node   string
	number int
}

func (l *lent) Close() error {
	err := l.port.Close()
	giveBack(l.node, l.number)
	return err
}

// Reader reads the raw reports of one or two devices.
type Reader struct {
	Devices []input.Identity
	// Reconnect is how long a device that was unplugged is looked for before Run
	// gives up; 0 looks for none. ReconnectTime is enough for a loose plug.
	Reconnect time.Duration
	// Opened is called after a device was opened, at the start and again after a
	// reconnection, from Run's goroutines but never at once with another call.
	// It may be nil.
	Opened func(t pad.Time, device int, again bool)
	// Idle is called after each read that gave no report, as Opened is. It may be nil.
	Idle func(t pad.Time, device int)

	open opener // nil: openDevice
}

// Run opens the devices and calls each for every report, with the time at which
// its read returned, until ctx ends (nil), a device fails (an error that wraps
// ErrUnplugged) or cannot be opened (a *Lacking), or each fails. What it opened
// is closed when it returns; closing beside an unplug can take 5 s. Each device
// is opened, read and closed by one goroutine, locked to its thread; each is
// never called at once from two of them. report is good until each returns.
func (r *Reader) Run(ctx context.Context, clock input.Clock, each func(t pad.Time, device int, report []byte) error) error {
	if len(r.Devices) == 0 || len(r.Devices) > input.MaxDevices {
		return fmt.Errorf("a pad is made of 1 to %d devices, not of %d", input.MaxDevices, len(r.Devices))
	}
	// What was thrown away while the program got ready is collected now: where one processor serves
	// all, a collection in the first second of reading would stamp a report milliseconds late.
	runtime.GC()
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	var mu sync.Mutex // of each, Opened and Idle
	var wg sync.WaitGroup
	errs := make([]error, len(r.Devices))
	for i := range r.Devices {
		wg.Go(func() {
			runtime.LockOSThread()
			defer runtime.UnlockOSThread()
			errs[i] = r.device(ctx, clock, i, &mu, each)
			if errs[i] != nil {
				stop(errs[i])
			}
		})
	}
	wg.Wait()
	return errors.Join(errs...)
}

// device opens a device, reads it and closes it, and does so again where it was
// unplugged and comes back in time.
func (r *Reader) device(ctx context.Context, clock input.Clock, i int, mu *sync.Mutex, each func(pad.Time, int, []byte) error) error {
	open := r.open
	if open == nil {
		open = openDevice
	}
	p, err := open(r.Devices[i])
	if err != nil {
		return err
	}
	buf := make([]byte, input.MaxReportBytes)
	var until time.Time // when the search for the device ends
	for again := false; ; again = true {
		mu.Lock()
		if r.Opened != nil {
			r.Opened(clock.Now(), i, again)
		}
		mu.Unlock()
		reports, failed, err := r.read(ctx, clock, p, i, buf, mu, each)
		p.Close() // what it says is of no use: the device is gone or done with
		if err != nil || ctx.Err() != nil {
			return err
		}
		// A device that comes back only to fail at once is not looked for anew.
		if reports || until.IsZero() {
			until = time.Now().Add(r.Reconnect)
		}
		p, err = r.again(ctx, open, r.Devices[i], until)
		switch {
		case err != nil:
			return nil // ctx ended
		case p == nil:
			return fmt.Errorf("%s: %w (%v)", r.Devices[i], ErrUnplugged, failed)
		}
	}
}

// read reads an open device until ctx ends, it fails (failed), or each does
// (err). It tells whether any report came.
func (r *Reader) read(ctx context.Context, clock input.Clock, p port, i int, buf []byte, mu *sync.Mutex, each func(pad.Time, int, []byte) error) (reports bool, failed, err error) {
	wait := int(readWait / time.Millisecond)
	if len(r.Devices) > 1 {
		wait = int(pairWait / time.Millisecond)
	}
	for ctx.Err() == nil {
		n, failed := p.ReadTimeout(buf, wait)
		t := clock.Now()
		if failed != nil {
			return reports, failed, nil
		}
		mu.Lock()
		switch {
		case ctx.Err() != nil:
		case n > 0:
			reports = true
			err = each(t, i, buf[:min(n, len(buf))])
		case r.Idle != nil:
			r.Idle(t, i)
		}
		mu.Unlock()
		if err != nil {
			return reports, nil, err
		}
	}
	return reports, nil, nil
}

// again looks for a device until it is found (and opens it), or the time for
// that is over (nil, nil), or ctx ends.
func (r *Reader) again(ctx context.Context, open opener, id input.Identity, until time.Time) (port, error) {
	for time.Now().Before(until) {
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(findAgain):
		}
		if p, err := open(id); err == nil {
			return p, nil
		}
	}
	return nil, nil
}

// Source gives the edges of a pad that is plugged in. It implements input.Source.
type Source struct {
	// Held is called where panels are down when the pad is opened: they give no
	// edge until they go up. It runs on a reading goroutine; it may be nil.
	Held func(panels pad.PanelSet)

	name      string
	reader    Reader
	m         *input.Map
	intervals [input.MaxDevices]pad.Time // between two reports of a device, 0 where unknown
	counts    input.Counts
	late      uint64
}

// Open makes the source of the pad that m describes; name is what the player
// calls it. It gives a *Lacking where a device is not plugged in or cannot be
// opened. The devices themselves are opened by Run. A device that is unplugged
// is looked for during ReconnectTime; the edges then go on after a gap. A gap is
// there too, with how many reports may be missing, where the reader was held up
// for too long or the device's own count says that some are.
func Open(name string, m *input.Map) (*Source, error) {
	list, err := List()
	if err != nil {
		return nil, err
	}
	s, err := newSource(name, m, nil)
	if err != nil {
		return nil, err
	}
	for i, id := range s.reader.Devices {
		d, err := Find(list, id)
		if err != nil {
			return nil, err
		}
		if d.Closed != nil {
			return nil, d.Closed
		}
		s.intervals[i] = d.Interval
	}
	return s, nil
}

func newSource(name string, m *input.Map, open opener) (*Source, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	s := &Source{name: name, m: m, reader: Reader{Reconnect: ReconnectTime, open: open}}
	for _, d := range m.Devices {
		s.reader.Devices = append(s.reader.Devices, d.Identity)
	}
	return s, nil
}

// Describe implements input.Source.
func (s *Source) Describe() string { return fmt.Sprintf("%s (USB %s)", s.name, s.reader.Devices[0]) }

// Counts gives what became of the reports of the last Run, once that has
// returned, and how many edges of one device came too late to be put before
// those of the other.
func (s *Source) Counts() (c input.Counts, late uint64) { return s.counts, s.late }

// Run implements input.Source. Its errors are those of Reader.Run.
func (s *Source) Run(ctx context.Context, clock input.Clock, q *input.Queue) error {
	f, err := input.NewFunnel(s.m, q, jitter, s.Held)
	if err != nil {
		return err
	}
	watches := make([]*input.Watch, len(s.m.Devices))
	for i := range watches {
		watches[i] = input.NewWatch(s.intervals[i])
	}
	r := s.reader
	r.Devices = slices.Clone(r.Devices)
	r.Opened = func(t pad.Time, device int, again bool) {
		f.Opened(t, device, again)
		watches[device].Begin()
	}
	r.Idle = func(t pad.Time, device int) {
		if lost := watches[device].Read(t, nil); lost > 0 {
			f.Gap(t, device, lost)
		}
		f.Idle(t)
	}
	err = r.Run(ctx, clock, func(t pad.Time, device int, report []byte) error {
		if lost := watches[device].Read(t, report); lost > 0 {
			f.Gap(t, device, lost)
		}
		f.Report(t, device, report)
		return nil
	})
	s.counts, s.late = f.End()
	return err
}
