package bench_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"heeltoe/input/record"
	"heeltoe/input/usb/bench"
)

// trouble is something that goes wrong while a run goes on. do makes it go wrong
// and gives what the player was told.
type trouble struct {
	name string
	do   func(tr *trial) (told string, err error)
}

// troubles are the rows of the second table.
var troubles = []trouble{
	{"disk full", (*trial).diskFull},
	{"read-only folder", (*trial).readOnly},
	{"folder removed", (*trial).folderRemoved},
	{"clock set back", (*trial).clockSetBack},
	{"stopped for an hour", (*trial).stoppedForAnHour},
	{"second run on the pad", (*trial).secondRun},
	{"unplugged 6 times", (*trial).loosePlug},
	{"killed while taught", (*trial).killedTeaching},
	{"killed while played", (*trial).killedPlaying},
}

// troublesRow is the name under which they are told of.
const troublesRow = "troubles"

// meet lets all troubles happen to one pad.
func meet(t *testing.T, port *int) {
	pads := guestPads()
	i := slices.IndexFunc(pads, func(p guestPad) bool { return p.name == "joystick" })
	tr := newTrial(t, &pads[i], port)
	tr.row, tr.name = troublesRow, troublesRow
	if err := tr.plug(tr.units[0]); err != nil {
		t.Fatal(err)
	}
	defer func() { _ = tr.units[0].unplug() }()
	if err := permit(tr.units[0]); err != nil {
		t.Fatal(err)
	}
	if err := tr.lesson(); err != nil {
		t.Fatal(err)
	}
	for _, w := range troubles {
		tr.check(w.name, func() (string, error) { return w.do(tr) })
	}
}

// playTo plays a drill of two reps, with its log in a folder, while something
// happens in the middle of it. It gives what the devices sent.
func (tr *trial) playTo(name string, reps int, happen func(r *run) error) (r *run, sent []edge, code int, out, errs string, err error) {
	if r, err = tr.runDrill(name, reps); err != nil {
		return
	}
	for k := range 2 {
		if err = tr.play(r.first, strokesOf(tr.layout, k)); err != nil {
			return
		}
	}
	bench.SleepUntil(r.first + 16*slot)
	if err = happen(r); err != nil {
		return
	}
	code, out, errs = r.end()
	sent, _ = tr.units[0].sent()
	return
}

// brief tells of a log in a few words.
func brief(l *record.Log) string {
	if l == nil {
		return "no log"
	}
	return fmt.Sprintf("%d edges, warnings %v", len(l.Edges), l.Warnings)
}

// lineOf gives the first line of what was said that holds a phrase.
func lineOf(said, phrase string) (string, error) {
	for l := range strings.Lines(said) {
		if strings.Contains(l, phrase) {
			return strings.TrimSpace(l), nil
		}
	}
	return "", fmt.Errorf("it does not say %q: %s", phrase, said)
}

// small makes a disk of two pages for a run's log.
func small(tr *trial, name string) (folder string, err error) {
	folder = "/home/player/" + tr.name + "-" + name
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return "", err
	}
	return folder, unix.Mount("tmpfs", folder, "tmpfs", 0, "size=8k,uid=1000,gid=1000")
}

// diskFull: the disk takes no more. The run goes on; what did not fit is kept elsewhere.
func (tr *trial) diskFull() (string, error) {
	folder, err := small(tr, "full")
	if err != nil {
		return "", err
	}
	filler := filepath.Join(folder, "filler")
	if err := os.WriteFile(filler, make([]byte, 4096), 0o644); err != nil {
		return "", err
	}
	tr.folder = folder
	defer func() { tr.folder = "" }()
	// The header and 66 edges or so fill the page that is left.
	r, err := tr.runDrill("full", 6)
	if err != nil {
		return "", err
	}
	for k := range 6 {
		if err := tr.play(r.first, strokesOf(tr.layout, k)); err != nil {
			return "", err
		}
	}
	code, out, errs := r.end()
	sent, _ := tr.units[0].sent()
	told, err := lineOf(out, "the run log cannot be written: ")
	if err != nil || code != 0 {
		return "", fmt.Errorf("exit %d, %s: %w", code, errs, err)
	}
	where, err := lineOf(errs, "the last lines of the run are in ")
	if err != nil {
		return "", err
	}
	_, where, _ = strings.Cut(where, " are in ")
	where, _, _ = strings.Cut(where, ";")
	log, err1 := os.ReadFile(r.log)
	rest, err2 := os.ReadFile(where)
	if err1 != nil || err2 != nil || len(rest) == 0 {
		return "", fmt.Errorf("%v, %v, %d bytes elsewhere", err1, err2, len(rest))
	}
	l, err := record.ReadLogFrom(r.log, bytes.NewReader(slices.Concat(log, rest)))
	if err != nil || len(l.Warnings) > 0 || len(l.Edges) != len(sent) {
		return "", fmt.Errorf("put together: %v, %s; the device sent %d edges", err, brief(l), len(sent))
	}
	return told, nil
}

// readOnly: the folder takes no file. The run does not begin.
func (tr *trial) readOnly() (string, error) {
	folder := "/home/player/" + tr.name + "-read-only"
	if err := os.Mkdir(folder, 0o555); err != nil {
		return "", err
	}
	file := "/home/player/bench.toml"
	if err := writeDrill(file, tr.layout, 1); err != nil {
		return "", err
	}
	code, out, errs := heeltoe("live", file, "--text", "--pad", tr.name, "--click", "off", "--out", folder+"/run.jsonl")
	if code != 1 || strings.Contains(out, "count") {
		return "", fmt.Errorf("exit %d: %s%s", code, out, errs)
	}
	return lineOf(errs, "the run log cannot be made")
}

// folderRemoved: the log's folder is removed in mid-run. It is there again at the end.
func (tr *trial) folderRemoved() (string, error) {
	tr.folder = "/home/player/" + tr.name + "-removed"
	defer func() { tr.folder = "" }()
	r, sent, code, out, errs, err := tr.playTo("removed", 3, func(*run) error { return os.RemoveAll(tr.folder) })
	if err != nil || code != 0 {
		return "", fmt.Errorf("exit %d, %v: %s%s", code, err, out, errs)
	}
	parts, lost, err := logged(r.log)
	if err != nil || len(lost) > 0 {
		return "", fmt.Errorf("gaps %v, %v", lost, err)
	}
	if _, err := same(parts[0], sent); err != nil {
		return "", err
	}
	return lineOf(out, "removed")
}

// clockSetBack: the wall clock is set back by an hour in mid-run. Nothing changes.
func (tr *trial) clockSetBack() (string, error) {
	var now unix.Timespec
	var offset time.Duration
	shift := func(by time.Duration) error {
		if err := unix.ClockGettime(unix.CLOCK_REALTIME, &now); err != nil {
			return err
		}
		now = unix.NsecToTimespec(now.Nano() + int64(by))
		return unix.ClockSettime(unix.CLOCK_REALTIME, &now)
	}
	r, sent, code, out, errs, err := tr.playTo("clock", 2, func(*run) error { offset = wallOffset(); return shift(-time.Hour) })
	if e := shift(time.Hour); err == nil {
		err = e
	}
	if err != nil || code != 0 {
		return "", fmt.Errorf("exit %d, %v: %s%s", code, err, out, errs)
	}
	l, err := record.ReadLog(r.log)
	if err != nil || len(l.Warnings) > 0 || len(l.Edges) != len(sent) {
		return "", fmt.Errorf("%v, %s", err, brief(l))
	}
	for i, e := range l.Edges {
		at := time.Duration(l.Header.Started.UnixNano()) - offset + e.T.Duration()
		if d := at - sent[i].at; d < -2*time.Microsecond || d > most {
			return "", edgeOff(i, d)
		}
	}
	return "nothing: all stamps are right", nil
}

// stoppedForAnHour: the machine sleeps, or the process is stopped, and an hour
// has gone when it wakes. The run is over; what was played is kept.
func (tr *trial) stoppedForAnHour() (string, error) {
	r, _, code, out, errs, err := tr.playTo("hour", 4, func(r *run) error {
		if err := r.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
			return err
		}
		bench.SleepUntil(bench.Monotonic() + time.Hour)
		return r.cmd.Process.Signal(syscall.SIGCONT)
	})
	if err != nil || code != 0 {
		return "", fmt.Errorf("exit %d, %v: %s%s", code, err, out, errs)
	}
	parts, lost, err := logged(r.log)
	// The reader may tell of it too, where it comes to that before the run is over.
	if err != nil || len(lost) < 1 || len(lost) > 2 || len(parts[0]) < 2*len(rep) {
		return "", fmt.Errorf("gaps %v, %d edges before, %v", lost, len(parts[0]), err)
	}
	return lineOf(out, "got no turn for 3600 s")
}

// secondRun: another heeltoe is started on the pad that is being played, with
// the same history. It says so; the first is not disturbed.
func (tr *trial) secondRun() (string, error) {
	var told string
	r, sent, code, out, errs, err := tr.playTo("first", 3, func(*run) error {
		code, out, errs := heeltoe("live", "/home/player/bench.toml", "--text", "--source", "pad", "--pad", tr.name, "--click", "off")
		if code != 3 || strings.Contains(out, "cut off") {
			return fmt.Errorf("the second: exit %d: %s%s", code, out, errs)
		}
		var err error
		told, err = lineOf(out+errs, "another program may be reading it")
		return err
	})
	if err != nil || code != 0 {
		return "", fmt.Errorf("exit %d, %v: %s%s", code, err, out, errs)
	}
	parts, _, err := logged(r.log)
	if err != nil {
		return "", err
	}
	return told, sameEdges(slices.Concat(parts...), sent)
}

// loosePlug: the plug is pulled and put back again and again in one run.
func (tr *trial) loosePlug() (string, error) {
	const times = 6
	r, err := tr.runDrill("loose", 100)
	if err != nil {
		return "", err
	}
	u := tr.units[0]
	for i := range times {
		if err := u.unplug(); err != nil {
			return "", err
		}
		if err := wait(2*time.Second, "it to be gone", hasGone(u)); err != nil {
			return "", err
		}
		if err := tr.plug(u); err != nil {
			return "", err
		}
		if err := permit(u); err != nil {
			return "", err
		}
		if err := wait(2*time.Second, "it to be read again", isRead(u)); err != nil {
			return "", fmt.Errorf("time %d: %w; %s", i, err, r.said())
		}
		// A press, late enough not to be taken for one that was held all the time.
		from := bench.Monotonic() + 300*time.Millisecond
		if err := tr.play(from, []stroke{{0, 2, 60 * time.Millisecond}}); err != nil {
			return "", err
		}
		bench.SleepUntil(from + 80*time.Millisecond)
	}
	fmt.Fprintln(r.in, "e")
	code, out, errs := r.end()
	parts, lost, err := logged(r.log)
	if err != nil || code != 0 || len(lost) != times {
		return "", fmt.Errorf("exit %d, %d gaps, %v: %s", code, len(lost), err, errs)
	}
	sent, _ := u.sent()
	if len(sent) != 2*times {
		return "", fmt.Errorf("the device sent %d edges", len(sent))
	}
	if err := sameEdges(slices.Concat(parts...), sent); err != nil {
		return "", err
	}
	told, err := lineOf(out, "gap: ")
	return fmt.Sprintf("%d × %s", strings.Count(out, told), told), err
}

// killedTeaching: a teaching that is to replace what was taught is killed at each
// panel in turn, at another moment of its presses. The pad stays as it was
// taught before, and the next teaching needs nothing done first.
func (tr *trial) killedTeaching() (string, error) {
	file := "/home/player/config/heeltoe/pads/" + tr.name + ".toml"
	old, err := os.ReadFile(file)
	if err != nil {
		return "", err
	}
	kills := len(tr.layout.Panels)
	for k := range kills {
		p, err := start(append(tr.teach(), "--force")...)
		if err != nil {
			return "", err
		}
		for asked := 0; asked <= k; {
			line, ok := <-p.lines
			if !ok {
				_, out, errs := p.end()
				return "", fmt.Errorf("time %d: it ended after %d panels: %s%s", k, asked, out, errs)
			}
			is, err := tr.obey(line)
			if err != nil {
				return "", err
			}
			if is {
				asked++
			}
		}
		bench.SleepUntil(bench.Monotonic() + time.Duration(150+170*k)*time.Millisecond)
		if err := p.cmd.Process.Kill(); err != nil {
			return "", err
		}
		if code, out, errs := p.end(); code != -1 || strings.Contains(out, "kept in") {
			return "", fmt.Errorf("time %d: it was over before it was killed, exit %d: %s%s", k, code, out, errs)
		}
		if is, err := os.ReadFile(file); err != nil || !bytes.Equal(is, old) {
			return "", fmt.Errorf("time %d: the pad is no longer as it was taught, %v:\n%s", k, err, is)
		}
		bench.SleepUntil(bench.Monotonic() + time.Second) // the presses are over
	}
	if err := tr.lesson("--force"); err != nil {
		return "", fmt.Errorf("taught again: %w", err)
	}
	return fmt.Sprintf("nothing: %d times the pad was as it was taught before, and could be taught again", kills), nil
}

// killedPlaying: a run is killed. What was pressed up to 50 ms before is in its log, the pad
// can be read again, and after that the kernel's driver has it.
func (tr *trial) killedPlaying() (string, error) {
	u := tr.units[0]
	r, err := tr.runDrill("killed", 4)
	if err != nil {
		return "", err
	}
	if err := tr.play(r.first, strokesOf(tr.layout, 0)); err != nil {
		return "", err
	}
	bench.SleepUntil(r.first + 20*slot)
	killed := bench.Monotonic()
	if err := r.cmd.Process.Kill(); err != nil {
		return "", err
	}
	if code, out, errs := r.end(); code != -1 {
		return "", fmt.Errorf("exit %d: %s%s", code, out, errs)
	}
	sent, _ := u.sent()
	sent = slices.DeleteFunc(sent, func(e edge) bool { return e.at > killed-50*time.Millisecond })
	parts, lost, err := logged(r.log)
	if err != nil || len(lost) > 0 {
		return "", fmt.Errorf("gaps %v, %w", lost, err)
	}
	kept := slices.Concat(parts...)
	if err := sameEdges(kept[:min(len(kept), len(sent))], sent); err != nil {
		return "", err
	}
	r, again, code, out, errs, err := tr.playTo("after-kill", 2, func(*run) error { return nil })
	if err != nil || code != 0 {
		return "", fmt.Errorf("again: exit %d, %v: %s%s", code, err, out, errs)
	}
	if parts, _, err = logged(r.log); err != nil {
		return "", err
	}
	if err := sameEdges(slices.Concat(parts...), again); err != nil {
		return "", err
	}
	return fmt.Sprintf("%d edges are kept; after the next run the system's driver has the pad again", len(kept)), tr.givenBack()
}
