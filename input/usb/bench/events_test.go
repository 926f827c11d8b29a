package bench_test

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input/evdev"
	"heeltoe/input/usb/bench"
)

// withKeys tells whether the kernel has a key for each panel of the pad.
func withKeys(p *guestPad) bool { return p.pad == nil || p.pad.Keys }

// eventFiles gives the event devices of a device.
func eventFiles(u unit) []string {
	dirs, _ := filepath.Glob(sysDevices + busID(u) + ":1.0/*/input/input*/event*")
	var out []string
	for _, d := range dirs {
		out = append(out, "/dev/input/"+filepath.Base(d))
	}
	return out
}

// heard: the system's input events carry the same edges as HID, stamped by the
// kernel. A game pad that was taught over HID is heard so where HID may not be
// opened; the keyboard is taught by its letters, which HID reports as a list.
func (tr *trial) heard() (string, error) {
	u := tr.units[0]
	hid := tr.edges
	files := eventFiles(u)
	if len(files) == 0 {
		return "", fmt.Errorf("the system has no input events of it")
	}
	if err := os.Chown(node(u), 0, 0); err != nil {
		return "", err
	}
	name := tr.name
	defer func() { tr.name = name }()
	if !tr.timed {
		u.(*keys).codes = letters
		tr.name += "-events"
		code, out, errs := heeltoe(append(tr.teach(), "--road", "events")...)
		if rule := evdev.Rule(u.identity()); code != 3 || out != "" || !strings.Contains(errs, rule) {
			return "", fmt.Errorf("without the right to it: exit %d, %s%s", code, out, errs)
		}
	}
	for _, f := range files {
		if err := os.Chown(f, player, player); err != nil {
			return "", err
		}
	}
	if !tr.timed {
		if err := tr.lesson("--road", "events"); err != nil {
			return "", err
		}
	}
	r, edges, delays, err := tr.drill("events")
	if err != nil {
		return "", err
	}
	if tr.timed && !strings.Contains(r.said(), "input events instead") {
		return "", fmt.Errorf("it does not say that it is heard in another way: %s", r.said())
	}
	if err := sameEdges(edges, hid); err != nil {
		return "", fmt.Errorf("against HID: %w", err)
	}
	if driver(u) != "usbhid" {
		return "", fmt.Errorf("the driver is %q", driver(u))
	}
	if err := permit(u); err != nil {
		return "", err
	}
	if !tr.timed {
		return "same", nil
	}
	return fmt.Sprintf("same, %.2f ms earlier", ms(median(tr.delays)-median(delays))), nil
}

// overflow is how many times a panel goes up and down while nobody reads: more
// than the 64 to 128 events that the system keeps for a reader (EVDEV_MIN_BUFFER_SIZE
// in the kernel's drivers/input/evdev.c), of which a change is two or three.
const overflow = 80

// withDrops are pads with keys that press in time, and fast enough to fill the
// system's queue before the run takes note of having stood still.
func withDrops(p *guestPad) bool {
	return withKeys(p) && withTime(p) && p.pad.Models[0].Interval == 1
}

// dropped: the program is stopped until the system has dropped input events. The
// run says so; what is down then is read anew, and nothing of what was dropped
// is left over: panel 1 is down all the time, panel 0 drums, panel 2 goes down
// near the end of it.
func (tr *trial) dropped() (string, error) {
	u := tr.units[0]
	if err := os.Chown(node(u), 0, 0); err != nil {
		return "", err
	}
	r, err := tr.runDrill("dropped", 1)
	if err != nil {
		return "", err
	}
	const ms = time.Millisecond
	drum := overflow * u.interval()
	script := []bench.Change{{At: r.first, Down: pad.SetOf(1)}}
	for i := range overflow {
		down := pad.SetOf(1)
		if i%2 == 0 {
			down = down.With(0)
		}
		script = append(script, bench.Change{At: r.first + 50*ms + time.Duration(i)*u.interval(), Down: down})
	}
	script = append(script,
		bench.Change{At: r.first + 55*ms + drum, Down: pad.SetOf(1, 2)},
		bench.Change{At: r.first + 300*ms + drum, Down: pad.SetOf(1)},
		bench.Change{At: r.first + 400*ms + drum})
	if err := u.play(script); err != nil {
		return "", err
	}
	bench.SleepUntil(r.first + 40*ms)
	if err := r.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
		return "", err
	}
	bench.SleepUntil(r.first + 70*ms + drum)
	woken := bench.Monotonic()
	if err := r.cmd.Process.Signal(syscall.SIGCONT); err != nil {
		return "", err
	}
	code, out, errs := r.end()
	said := gapSaid.FindStringSubmatch(out)
	if code != 0 || said == nil {
		return "", fmt.Errorf("exit %d, and no gap was told of: %s%s", code, out, errs)
	}
	parts, lost, err := logged(r.log)
	if err != nil || len(lost) != 1 {
		return "", fmt.Errorf("gaps %v, %v", lost, err)
	}
	// Up to a millisecond each since the last report may be missing.
	if n := time.Duration(lost[0]) * ms; n < drum || n > drum+100*ms || said[1] != fmt.Sprint(lost[0]) {
		return "", fmt.Errorf("it says %q, the log %d; the panel drummed for %v", said[0], lost, drum)
	}
	if err := sameEdges(slices.Concat(parts...), []edge{{0, 1, true}, {0, 2, true}, {0, 2, false}, {0, 1, false}}); err != nil {
		return "", err
	}
	if at := parts[1][0].at - woken; len(parts[0]) != 1 || at < 0 || at > 5*ms {
		return "", fmt.Errorf("what was down is told of %v after the program was woken, %d edges before the gap", at, len(parts[0]))
	}
	sent, _ := u.sent()
	if len(sent) < overflow {
		return "", fmt.Errorf("the device could send but %d edges", len(sent))
	}
	return said[1], permit(u)
}

func median(d []time.Duration) time.Duration {
	d = slices.Sorted(slices.Values(d))
	return d[len(d)/2]
}
