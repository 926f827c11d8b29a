//go:build linux

package bench

import (
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"golang.org/x/sys/unix"

	"heeltoe/footing/pad"
)

// Change is what is down from a moment on.
type Change struct {
	At   time.Duration // on the monotonic clock, see Monotonic
	Down pad.PanelSet
}

// Report is a report that the host took.
type Report struct {
	At    time.Duration // when it was handed over
	Frame uint64        // whole intervals since the device was plugged in
	Part  int
	Down  pad.PanelSet // of the part's panels
	Bytes []byte
}

// Monotonic gives the system's monotonic clock, the one that the kernel stamps with.
func Monotonic() time.Duration {
	var t unix.Timespec
	_ = unix.ClockGettime(unix.CLOCK_MONOTONIC, &t) // it cannot fail for this clock
	return time.Duration(t.Nano())
}

// SleepUntil sleeps to a moment of the monotonic clock, to the precision of the
// kernel's timers; time.Sleep may wait a millisecond longer.
func SleepUntil(at time.Duration) {
	t := unix.NsecToTimespec(int64(at))
	for unix.ClockNanosleep(unix.CLOCK_MONOTONIC, unix.TIMER_ABSTIME, &t, nil) == unix.EINTR {
	}
}

// Device is a device of a model that can be plugged in. Its methods may be
// called from any goroutine.
type Device struct {
	Model *Model

	mu      sync.Mutex
	wire    int  // our end of the socket, while in is true
	in      bool // it is plugged in
	gone    chan struct{}
	plugged time.Duration // when frame 0 began
	waiting []uint32      // transfers of the host that wait for a report
	script  []Change      // to come, in time order
	down    pad.PanelSet
	told    pad.PanelSet // as the host was told last
	stale   []bool       // parts that changed since they were sent
	next    int          // part to be sent first
	sent    []Report
	bell    int // an eventfd: there is a new script
}

// manyReports are those of half a minute at 1000 Hz, and more: to make room for
// them while the device plays would make it late.
const manyReports = 1 << 16

// NewDevice makes an unplugged device.
func NewDevice(m *Model) (*Device, error) {
	bell, err := unix.Eventfd(0, unix.EFD_CLOEXEC|unix.EFD_NONBLOCK)
	if err != nil {
		return nil, err
	}
	return &Device{Model: m, stale: make([]bool, len(m.Parts)), bell: bell, sent: make([]Report, 0, manyReports)}, nil
}

// vhci is the virtual host controller; it has 8 ports of up to high speed.
const vhci = "/sys/devices/platform/vhci_hcd.0/"

// fullSpeed is the kernel's number for 12 Mbit/s (enum usb_device_speed).
const fullSpeed = 2

// Plug plugs the device into a port, 0 to 7.
func (d *Device) Plug(port int) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.in {
		return errors.New("the device is plugged in already")
	}
	fds, err := unix.Socketpair(unix.AF_UNIX, unix.SOCK_STREAM|unix.SOCK_CLOEXEC, 0)
	if err != nil {
		return err
	}
	d.wire, d.in, d.plugged = fds[0], true, Monotonic()
	d.waiting, d.down, d.told, d.next = nil, 0, 0, 0
	clear(d.stale)
	d.gone = make(chan struct{})
	go d.live(fds[0], d.gone)
	// The kernel takes the other end; the number in the middle only has to differ from those of other devices.
	line := fmt.Sprintf("%d %d %d %d", port, fds[1], 1<<16|(port+1), fullSpeed)
	err = os.WriteFile(vhci+"attach", []byte(line), 0)
	unix.Close(fds[1])
	if err != nil {
		d.in = false
		_ = unix.Shutdown(fds[0], unix.SHUT_RDWR)
	}
	return err
}

// Unplug pulls the plug.
func (d *Device) Unplug() {
	d.mu.Lock()
	wire, in, gone := d.wire, d.in, d.gone
	d.in, d.waiting, d.script = false, nil, nil
	d.mu.Unlock()
	if !in {
		return
	}
	// The kernel holds the other end: it hears of a shutdown at once.
	_ = unix.Shutdown(wire, unix.SHUT_RDWR)
	<-gone
}

// Play adds changes to what is to come; they are in time order.
func (d *Device) Play(script []Change) {
	d.mu.Lock()
	d.script = append(d.script, script...)
	d.mu.Unlock()
	d.rouse()
}

// Sent gives the reports that the host took since the last call.
func (d *Device) Sent() []Report {
	d.mu.Lock()
	defer d.mu.Unlock()
	s := slices.Clone(d.sent)
	d.sent = d.sent[:0]
	return s
}

// rouse has the device look at its script.
func (d *Device) rouse() { _, _ = unix.Write(d.bell, []byte{1, 0, 0, 0, 0, 0, 0, 0}) }

func (d *Device) interval() time.Duration { return time.Duration(d.Model.Interval) * time.Millisecond }

// live is the device from plug to unplug: one thread, which comes before all
// that the host does, since a device waits for nobody. It sleeps until the host
// asks for something or an interval ends in which there may be something to send.
func (d *Device) live(wire int, gone chan struct{}) {
	runtime.LockOSThread() // and never unlocked: the thread ends with the goroutine
	// Not a real-time policy: now and then Go's scheduler has a thread yield until
	// another one has gone on, which on one processor that other one never does.
	_ = unix.Setpriority(unix.PRIO_PROCESS, 0, -20)
	_ = unix.Prctl(unix.PR_SET_TIMERSLACK, 1, 0, 0, 0) // ns by which the system may wake it late
	defer close(gone)
	defer unix.Close(wire)
	ears := []unix.PollFd{{Fd: int32(wire), Events: unix.POLLIN}, {Fd: int32(d.bell), Events: unix.POLLIN}}
	var frame uint64 // at whose end it looks next, or 0
	var rung [8]byte
	for {
		var wait time.Duration
		frame, wait = d.due(frame)
		if wait == 0 {
			d.frame(frame)
			frame = 0
			continue
		}
		var timeout *unix.Timespec
		if wait > 0 {
			t := unix.NsecToTimespec(int64(wait))
			timeout = &t
		}
		switch _, err := unix.Ppoll(ears, timeout, nil); {
		case err == unix.EINTR:
			continue
		case err != nil:
			return
		}
		if ears[1].Revents != 0 {
			_, _ = unix.Read(d.bell, rung[:])
		}
		if ears[0].Revents != 0 && d.answer(wire) != nil {
			return
		}
	}
}

// due gives the frame at whose end the device looks next and how long it is
// until then, 0 where that is over; or frame 0, and until when to look again, -1
// for when something comes. A frame once given stays.
func (d *Device) due(given uint64) (frame uint64, wait time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := Monotonic()
	if frame = given; frame == 0 {
		soon := len(d.waiting) > 0 && (d.Model.Repeats || slices.Contains(d.stale, true))
		if len(d.script) > 0 && !soon {
			ahead := d.script[0].At - d.interval() - now
			if ahead > 0 {
				return 0, ahead
			}
			soon = true
		}
		if !soon {
			return 0, -1
		}
		frame = uint64((now-d.plugged)/d.interval()) + 1
	}
	return frame, max(0, d.plugged+time.Duration(frame)*d.interval()-now)
}

// frame is the end of an interval: the state is taken, and one report sent
// where there is one and the host waits for it. What the host does not wait for
// is not kept: a later report tells a later state.
func (d *Device) frame(n uint64) {
	d.mu.Lock()
	defer d.mu.Unlock()
	at := d.plugged + time.Duration(n)*d.interval()
	for len(d.script) > 0 && d.script[0].At <= at {
		d.down = d.script[0].Down
		d.script = d.script[1:]
	}
	for i, p := range d.Model.Parts {
		d.stale[i] = (d.down^d.told)&p.Panels != 0
	}
	if len(d.waiting) == 0 || !d.in {
		return
	}
	parts := len(d.Model.Parts)
	for k := range parts {
		i := (d.next + k) % parts
		if !d.stale[i] && !d.Model.Repeats {
			continue
		}
		p := &d.Model.Parts[i]
		r := Report{Frame: n, Part: i, Down: d.down & p.Panels, Bytes: p.Encode(d.down, n)}
		seq := d.waiting[0]
		d.waiting = d.waiting[1:]
		d.told = d.told&^p.Panels | r.Down
		d.stale[i] = false
		d.next = (i + 1) % parts
		r.At = Monotonic()
		if d.send(answer(retSubmit, seq, 0, len(r.Bytes), r.Bytes)) == nil {
			d.sent = append(d.sent, r)
		}
		return
	}
}

// send writes to the host.
func (d *Device) send(b []byte) error {
	_, err := wire(d.wire).Write(b)
	return err
}

// answer answers one request of the host.
func (d *Device) answer(from int) error {
	q, err := readRequest(wire(from))
	if err != nil {
		return err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	switch {
	case !d.in:
		return nil
	case q.command == cmdUnlink:
		status := int32(0)
		if i := slices.Index(d.waiting, q.unlinked); i >= 0 {
			d.waiting = slices.Delete(d.waiting, i, i+1)
			status = statusReset
		}
		return d.send(answer(retUnlink, q.seq, status, 0, nil))
	case q.endpoint != 0 && q.in:
		d.waiting = append(d.waiting, q.seq)
		return nil
	case q.endpoint != 0:
		return d.send(answer(retSubmit, q.seq, statusPipe, 0, nil))
	}
	data, ok := d.Model.control(&q, d.Model.Parts[0].Encode(d.down, 0))
	switch {
	case !ok:
		return d.send(answer(retSubmit, q.seq, statusPipe, 0, nil))
	case q.in:
		return d.send(answer(retSubmit, q.seq, 0, len(data), data))
	}
	return d.send(answer(retSubmit, q.seq, 0, len(q.data), nil))
}

// wire is the device's end of the socket. It is read and written without the
// runtime's poller, which would have another thread wake this one.
type wire int

func (w wire) Read(b []byte) (int, error) {
	for {
		n, err := unix.Read(int(w), b)
		switch {
		case err == unix.EINTR:
		case err != nil:
			return 0, err
		case n == 0 && len(b) > 0:
			return 0, io.EOF
		default:
			return n, nil
		}
	}
}

func (w wire) Write(b []byte) (int, error) {
	// A plug that is pulled meanwhile is an error, not a signal.
	return unix.SendmsgN(int(w), b, nil, nil, unix.MSG_NOSIGNAL)
}

// Free tells whether no device is in the port, as the controller says.
func Free(port int) bool {
	text, err := os.ReadFile(vhci + "status")
	if err != nil {
		return false
	}
	// Lines of "hub port sta spd dev sockfd local_busid"; sta 4 is an empty port.
	var hub, number string
	var state int
	for line := range strings.Lines(string(text)) {
		if n, _ := fmt.Sscan(line, &hub, &number, &state); n == 3 && hub == "hs" {
			if p, err := strconv.Atoi(number); err == nil && p == port {
				return state == 4
			}
		}
	}
	return false
}
