package bench_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"testing"

	"golang.org/x/sys/unix"

	"heeltoe/input/usb/bench"
)

// TestMain makes this binary the first process of the guest.
func TestMain(m *testing.M) {
	if os.Getpid() != 1 {
		os.Exit(m.Run())
	}
	code := 1
	if err := bringUp(); err != nil {
		fmt.Println("the guest does not come up:", err)
	} else {
		code = m.Run()
	}
	fmt.Printf("%s%d\n", markExit, code)
	unix.Sync()
	_ = unix.Reboot(unix.LINUX_REBOOT_CMD_POWER_OFF) // where it fails, the end of process 1 ends the guest too
}

// bringUp mounts what the system needs and loads the drivers.
func bringUp() error {
	for _, m := range []struct{ kind, at string }{{"proc", "/proc"}, {"sysfs", "/sys"}, {"devtmpfs", "/dev"}, {"tmpfs", "/tmp"}, {"tmpfs", "/home"}} {
		if err := unix.Mount(m.kind, m.at, m.kind, 0, ""); err != nil {
			return fmt.Errorf("mount %s: %w", m.at, err)
		}
	}
	// The console carries lines from the other side: without echo.
	if t, err := unix.IoctlGetTermios(0, unix.TCGETS); err == nil {
		t.Lflag &^= unix.ECHO
		_ = unix.IoctlSetTermios(0, unix.TCSETS, t)
	}
	modules, err := filepath.Glob("/modules/*")
	if err != nil || len(modules) == 0 {
		return fmt.Errorf("there are no modules (%v)", err)
	}
	slices.Sort(modules)
	for _, file := range modules {
		f, err := os.Open(file)
		if err == nil {
			err = unix.FinitModule(int(f.Fd()), "", 0)
			f.Close()
		}
		if err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
	}
	os.Setenv("PATH", "/bin")
	// A device waits neither for the test beside it to stop to think, nor for tidying up, unless it must.
	runtime.GOMAXPROCS(8)
	debug.SetGCPercent(-1)
	debug.SetMemoryLimit(128 << 20)
	// The other side is waited for by looking: see monitor.
	if err := unix.SetNonblock(0, true); err != nil {
		return err
	}
	return nil
}

// guestPad is a row of the table.
type guestPad struct {
	name string
	pad  *bench.Pad // nil: QEMU's keyboard
}

// keyboard is the name of the device that nobody here wrote.
const keyboard = "QEMU keyboard"

func guestPads() []guestPad {
	var out []guestPad
	for _, p := range bench.Pads() {
		out = append(out, guestPad{p.Name, &p})
	}
	return append(out, guestPad{keyboard, nil})
}

// check is a column of the table.
type check struct {
	name    string
	width   int
	applies func(p *guestPad) bool
	do      func(tr *trial) (figures string, err error)
}

func always(*guestPad) bool { return true }

// thousand tells whether the pad reports 1000 times a second.
func thousand(p *guestPad) bool {
	return p.pad != nil && p.pad.Models[0].Repeats && p.pad.Models[0].Interval == 1
}

// checks are the columns, in the order in which they are done.
var checks = []check{
	{"found", 5, always, (*trial).found},
	{"refused", 7, always, (*trial).refused},
	{"opened", 6, always, (*trial).opened},
	{"taught", 6, always, (*trial).taught},
	{"drill", 29, always, (*trial).drilled},
	{"replugged", 11, always, (*trial).replugged},
	{"unplugged", 9, always, (*trial).unplugged},
	{"starved", 7, always, (*trial).starved},
	{"input events", 21, withKeys, (*trial).heard},
	{"dropped", 7, withDrops, (*trial).dropped},
	{"pads check", 10, withTime, (*trial).judged},
	{"pads reach", 10, oneReached, (*trial).reached},
	{"30 s at 1000 Hz", 15, thousand, (*trial).recorded},
}

// TestGuest is what runs in the guest.
func TestGuest(t *testing.T) {
	if os.Getpid() != 1 {
		t.Skip("runs inside the kernel that TestPads boots")
	}
	if err := os.Mkdir("/home/player", 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.Chown("/home/player", player, player); err != nil {
		t.Fatal(err)
	}
	port := 0
	for _, p := range guestPads() {
		t.Run(p.name, func(t *testing.T) { newTrial(t, &p, &port).all(&p) })
	}
	t.Run(troublesRow, func(t *testing.T) { meet(t, &port) })
}

// player is the user who runs heeltoe.
const player = 1000

// monitor has QEMU's monitor do something. It waits for the answer without ever
// sleeping: while nothing is done time in the guest passes at once, and minutes of
// it would go by until an answer comes from outside.
func monitor(command string) error {
	fmt.Printf("%s%s\n", markMonitor, command)
	var answer []byte
	for b := make([]byte, 256); !bytes.HasSuffix(answer, []byte{'\n'}); {
		n, err := unix.Read(0, b)
		if n > 0 {
			answer = append(answer, b[:n]...)
		} else if err != nil && err != unix.EAGAIN && err != unix.EINTR {
			return err
		}
	}
	if !bytes.HasPrefix(answer, []byte(`{"return"`)) {
		return fmt.Errorf("%s: %s", command, answer)
	}
	return nil
}
