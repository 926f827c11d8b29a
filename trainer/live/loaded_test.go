//go:build linux

package live_test

import (
	"bufio"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strconv"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/judge"
	"heeltoe/trainer/live"
	"heeltoe/trainer/turns"
)

func init() { roles["busy"], roles["device"], roles["bare reader"] = busy, sendReports, readBare }

// busy keeps a processor busy.
func busy() {
	for n := 0; ; n++ {
		runtime.KeepAlive(n)
	}
}

// A report on its way to a reader: when it was sent, on the monotonic clock in
// nanoseconds, and two bytes of panels.
const sentBytes = 8 + 2

func nanos() int64 {
	var t unix.Timespec
	_ = unix.ClockGettime(unix.CLOCK_MONOTONIC, &t) // it cannot fail for this clock
	return t.Nano()
}

// sendReports writes as many reports as its first argument says, a millisecond apart, to
// standard output and to descriptor 3, half a millisecond apart and by its second argument
// in this order (0) or the other (1): each reader has its own, and both the same load.
func sendReports() {
	n, err := strconv.Atoi(os.Args[1])
	if err != nil {
		panic(err)
	}
	first, err := strconv.Atoi(os.Args[2])
	if err != nil {
		panic(err)
	}
	runtime.LockOSThread()
	var b [sentBytes]byte
	next := nanos()
	for i := range 2 * n {
		next += int64(time.Millisecond / 2)
		at := unix.NsecToTimespec(next)
		for unix.ClockNanosleep(unix.CLOCK_MONOTONIC, unix.TIMER_ABSTIME, &at, nil) == unix.EINTR {
		}
		b[sentBytes-2], b[sentBytes-1] = byte(i/2%2), 0 // the first panel goes down and up
		binary.LittleEndian.PutUint64(b[:], uint64(nanos()))
		if _, err := unix.Write([]int{1, 3}[(i+first)%2], b[:]); err != nil {
			panic(err)
		}
	}
}

// readOne reads a report as the HID library does, on a thread that waits for nothing else.
func readOne(fd int, b []byte) error {
	for at := 0; at < len(b); {
		n, err := unix.Read(fd, b[at:])
		switch {
		case err == unix.EINTR:
		case err != nil:
			return err
		case n == 0:
			return io.EOF
		default:
			at += n
		}
	}
	return nil
}

// readBare reads reports from standard input, does nothing with them, and at the
// end writes how long each took to come, in microseconds, a line each.
func readBare() {
	runtime.LockOSThread()
	var b [sentBytes]byte
	late := make([]int64, 0, 1<<20)
	for readOne(0, b[:]) == nil {
		late = append(late, (nanos()-int64(binary.LittleEndian.Uint64(b[:])))/1000)
	}
	w := bufio.NewWriter(os.Stdout)
	defer w.Flush()
	for _, us := range late {
		fmt.Fprintln(w, us)
	}
}

// sender is a pad at the other end of a pipe. sent has when each report was sent.
type sender struct {
	fd   int
	dec  *input.Decoder
	sent []int64
}

func (s *sender) Describe() string { return "a pad at the other end of a pipe" }

func (s *sender) Run(_ context.Context, clock input.Clock, q *input.Queue) error {
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	var b [sentBytes]byte
	buf := make([]pad.Edge, 0, 16)
	s.dec.Decode(buf, clock.Now(), 0, b[sentBytes-2:]) // the state at the start
	for readOne(s.fd, b[:]) == nil {
		now := clock.Now()
		buf = s.dec.Decode(buf[:0], now, 0, b[sentBytes-2:])
		for _, e := range buf {
			s.sent = append(s.sent, int64(binary.LittleEndian.Uint64(b[:])))
			q.Put(e)
		}
	}
	return nil
}

// With each processor kept busy by another program: from a report being sent to
// its verdict, 99 of 100 take at most 1.5 times as long as with a program that
// reads and does nothing, of the same reports, at the same time. Which of the two shares
// its processor with what is the system's whim, so there are several rounds with programs begun anew.
func TestMeasureLoadedReadToVerdict(t *testing.T) {
	if os.Getenv("HEELTOE_MEASURE") == "" {
		t.Skip("not run: make measure runs it")
	}
	const rounds, n = 8, 10_000
	// As the programs do.
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(runtime.NumCPU() + 2))
	turns.Soon()
	var judged, alone []int64
	for k := range rounds {
		j, a := loaded(t, n, k%2)
		judged, alone = append(judged, j...), append(alone, a...)
	}
	slices.Sort(alone)
	slices.Sort(judged)
	at := func(s []int64, per1000 int) int64 { return s[len(s)*per1000/1000] }
	t.Logf("both processors loaded; report to verdict: median %d µs, p99 %d µs, worst %d µs; a bare reader: %d, %d, %d µs",
		at(judged, 500), at(judged, 990), judged[len(judged)-1], at(alone, 500), at(alone, 990), alone[len(alone)-1])
	if p, q := at(judged, 990), at(alone, 990); float64(p) > 1.5*float64(q) {
		t.Errorf("p99 is %.2f times that of the bare reader, must be at most 1.5", float64(p)/float64(q))
	}
}

// loaded gives for a run, and for a bare reader beside it, how long each of n reports took, in
// microseconds. Which is sent first is said by 0 or 1.
func loaded(t *testing.T, n, first int) (judged, alone []int64) {
	t.Helper()
	var programs []*exec.Cmd
	begin := func(name string, args ...string) *exec.Cmd {
		c := exec.Command(os.Args[0], args...)
		c.Env = append(os.Environ(), role+"="+name)
		c.Stderr = os.Stderr
		return c
	}
	start := func(c *exec.Cmd) {
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		programs = append(programs, c)
	}
	defer func() {
		for _, c := range programs {
			_, _ = c.Process.Kill(), c.Wait()
		}
	}()
	for range runtime.NumCPU() {
		start(begin("busy"))
	}
	ours, toUs, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	theirs, toThem, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	device, bare := begin("device", strconv.Itoa(n), strconv.Itoa(first)), begin("bare reader")
	device.Stdout, device.ExtraFiles = toUs, []*os.File{toThem}
	bare.Stdin = theirs
	said, err := bare.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	start(bare)
	start(device)
	toUs.Close()
	toThem.Close()
	theirs.Close()

	clock, _ := live.NewClock()
	src := &sender{fd: int(ours.Fd()), dec: newDevice(t, 0).dec, sent: make([]int64, 0, n)}
	verdict := make([]int64, 0, n)
	c := &live.Config{Drill: tapDrill(t, n), Clock: clock, Read: true, Options: judge.Options{Lead: 100 * pad.Millisecond},
		Sources: []input.Source{src},
		Fed:     func(pad.Edge) { verdict = append(verdict, nanos()) }}
	live.Play(t.Context(), c)
	ours.Close()

	for sc := bufio.NewScanner(said); sc.Scan(); {
		us, err := strconv.ParseInt(sc.Text(), 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		alone = append(alone, us)
	}
	if len(alone) != n || len(src.sent) < n-1 || len(verdict) != len(src.sent) {
		t.Fatalf("the bare reader had %d reports of %d, the run %d, of which %d were judged", len(alone), n, len(src.sent), len(verdict))
	}
	for i := range verdict {
		judged = append(judged, (verdict[i]-src.sent[i])/1000)
	}
	return judged, alone
}
