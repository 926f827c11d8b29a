package bench_test

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
	"heeltoe/input/usb/bench"
)

// slot is the drill's finest step: 120 beats a minute, four a beat.
const slot = 125 * time.Millisecond

// steps is a rep of 16 slots: notes that overlap, a bracket, a roll, a quick
// tap and two at once. Its panels are those of one pad.
const steps = "nw c sw . nw+sw . se c . ne . c+se . nw . ."

// rep gives how steps are pressed. Each pair overlaps, but for the tap.
var rep = []struct {
	slot  int
	after time.Duration
	panel string
	hold  time.Duration
}{
	{0, 0, "nw", 200 * time.Millisecond}, {1, 0, "c", 160 * time.Millisecond}, {2, 0, "sw", 90 * time.Millisecond},
	{4, 0, "nw", 150 * time.Millisecond}, {4, 3 * time.Millisecond, "sw", 160 * time.Millisecond}, // a bracket, spread by 3 ms
	{6, 0, "se", 135 * time.Millisecond}, {7, 0, "c", 100 * time.Millisecond}, // a roll: the heel goes up after the toe is down
	{9, 0, "ne", 30 * time.Millisecond}, // a tap
	{11, 0, "c", 140 * time.Millisecond}, {11, time.Millisecond, "se", 140 * time.Millisecond},
	{13, 0, "nw", 100 * time.Millisecond},
}

// onPads names a panel of one pad on a layout: on two pads c and the right
// corners are of the right one.
func onPads(l *pad.Layout, id string) string {
	switch {
	case l == pad.Single:
		return id
	case id == "c" || id == "ne" || id == "se":
		return "2" + id
	}
	return "1" + id
}

// writeDrill writes the drill of so many reps.
func writeDrill(file string, l *pad.Layout, reps int) error {
	var words []string
	for _, w := range strings.Fields(steps) {
		var ids []string
		for id := range strings.SplitSeq(w, "+") {
			if id != "." {
				id = onPads(l, id)
			}
			ids = append(ids, id)
		}
		words = append(words, strings.Join(ids, "+"))
	}
	text := fmt.Sprintf("name = \"bench\"\nlayout = %q\nbpm = 120.0\nper_beat = 4\nreps = %d\ncount_in_beats = 2\nsteps = %q\n",
		l.Name, reps, strings.Join(words, " "))
	return os.WriteFile(file, []byte(text), 0o644)
}

// strokesOf gives the strokes of rep r, from the first note of the run on.
func strokesOf(l *pad.Layout, r int) []stroke {
	var out []stroke
	for _, s := range rep {
		p, _ := l.Lookup(onPads(l, s.panel))
		out = append(out, stroke{time.Duration(16*r+s.slot)*slot + s.after, p, s.hold})
	}
	return out
}

// run is a run of heeltoe live that goes on.
type run struct {
	*program
	log   string
	first time.Duration // when the first note is due, on the monotonic clock
}

// runDrill starts a run of the drill and waits for its count-in.
func (tr *trial) runDrill(name string, reps int, flags ...string) (*run, error) {
	folder := tr.folder
	if folder == "" {
		folder = "/home/player"
	}
	file, log := "/home/player/bench.toml", folder+"/"+tr.name+"-"+name+tr.again+".jsonl"
	if err := writeDrill(file, tr.layout, reps); err != nil {
		return nil, err
	}
	for _, u := range tr.units {
		u.sent()
	}
	p, err := start(append([]string{"live", file, "--text", "--source", "pad", "--pad", tr.name, "--click", "off", "--out", log}, flags...)...)
	if err != nil {
		return nil, err
	}
	if err := p.until("count 1 of 2"); err != nil {
		return nil, err
	}
	// By the log, not by when the line came: what is asked for is to be pressed in time.
	r := &run{program: p, log: log}
	return r, wait(time.Second, "the log's header", func() bool {
		l, err := record.ReadLog(log)
		if err != nil {
			return false
		}
		r.first = time.Duration(l.Header.Started.UnixNano()) - wallOffset() + l.Header.Lead.Duration()
		return true
	})
}

// unknown is the time of an edge of a device that does not tell.
const unknown = time.Duration(-1)

// edge is an edge as a device or a log tells it; at is on the monotonic clock.
type edge struct {
	at    time.Duration
	panel pad.Panel
	down  bool
}

// wallOffset is the wall clock's time at the zero of the monotonic clock.
func wallOffset() time.Duration {
	return time.Duration(time.Now().UnixNano()) - bench.Monotonic()
}

// logged reads a run log. The edges of each gap's sides are apart: there is one
// part more than there are gaps.
func logged(file string) (parts [][]edge, lost []uint32, err error) {
	l, err := record.ReadLog(file)
	if err != nil {
		return nil, nil, err
	}
	if len(l.Warnings) > 0 {
		return nil, nil, fmt.Errorf("the log is not clean: %v", l.Warnings)
	}
	zero := time.Duration(l.Header.Started.UnixNano()) - wallOffset()
	parts = [][]edge{nil}
	for _, e := range l.Edges {
		if e.Kind == pad.Gap {
			parts, lost = append(parts, nil), append(lost, e.Lost)
			continue
		}
		last := &parts[len(parts)-1]
		*last = append(*last, edge{zero + e.T.Duration(), e.Panel, e.Kind == pad.Down})
	}
	return parts, lost, nil
}

// of gives the edges of some panels.
func of(edges []edge, panels pad.PanelSet) []edge {
	var out []edge
	for _, e := range edges {
		if panels.Has(e.panel) {
			out = append(out, e)
		}
	}
	return out
}

// most is the farthest that a press may be stamped from the device's own time.
const most = 500 * time.Microsecond

// stampOff says which stamp is too far from when something was sent, and how far.
type stampOff string

func (s stampOff) Error() string { return string(s) }

func edgeOff(i int, by time.Duration) error {
	return stampOff(fmt.Sprintf("edge %d is stamped %v after it was sent", i, by))
}

// sameEdges compares edges but for their times.
func sameEdges(got, want []edge) error {
	for i := range min(len(got), len(want)) {
		if got[i].panel != want[i].panel || got[i].down != want[i].down {
			return fmt.Errorf("edge %d is %+v, the device sent %+v", i, got[i], want[i])
		}
	}
	if len(got) != len(want) {
		return fmt.Errorf("the log has %d edges, the device sent %d", len(got), len(want))
	}
	return nil
}

// same compares what a log has with what a device sent: the same edges in the
// same order, each stamped within most after it was sent. It gives the delays.
func same(got, want []edge) (delays []time.Duration, err error) {
	if err := sameEdges(got, want); err != nil {
		return nil, err
	}
	for i := range want {
		if want[i].at == unknown {
			continue
		}
		d := got[i].at - want[i].at
		if d < -time.Microsecond || d > most {
			return delays, edgeOff(i, d)
		}
		delays = append(delays, d)
	}
	return delays, nil
}

// reps gives how many reps a run is begun with in which so many are played.
func (tr *trial) reps(n int) int {
	if tr.timed {
		return n
	}
	return 200 // who cannot press in time plays on until told to end
}

// over waits for the end of a run, or ends it where the devices keep no time.
func (tr *trial) over(r *run) (code int, out, errs string) {
	if !tr.timed {
		bench.SleepUntil(bench.Monotonic() + 200*time.Millisecond)
		fmt.Fprintln(r.in, "e")
	}
	return r.end()
}

// drill plays a whole drill. It gives what the log has, which is what the
// devices sent, and how much later than that it is stamped.
func (tr *trial) drill(name string) (r *run, edges []edge, delays []time.Duration, err error) {
	if r, err = tr.runDrill(name, tr.reps(2)); err != nil {
		return nil, nil, nil, err
	}
	for k := range 2 {
		if err := tr.play(r.first, strokesOf(tr.layout, k)); err != nil {
			return nil, nil, nil, err
		}
	}
	code, out, errs := tr.over(r)
	if code != 0 {
		return nil, nil, nil, fmt.Errorf("exit %d: %s%s", code, out, errs)
	}
	parts, lost, err := logged(r.log)
	if err != nil {
		return nil, nil, nil, err
	}
	if tr.counts {
		parts, lost = tr.counted(parts, lost)
	}
	if len(lost) > 0 {
		return nil, nil, nil, fmt.Errorf("gaps %v", lost)
	}
	for _, u := range tr.units {
		sent, missed := u.sent()
		if tr.counts && tr.missing > missed { // before it is sure of the count it says nothing
			return nil, nil, nil, fmt.Errorf("%d reports are said to be missing, the device could not send %d", tr.missing, missed)
		}
		d, err := same(of(parts[0], u.panels()), sent)
		if err != nil {
			_, shown, _ := heeltoe("pads", "show", tr.name)
			return nil, nil, nil, fmt.Errorf("%w; %s", err, shown)
		}
		delays = append(delays, d...)
	}
	if want := 4 * len(rep); len(parts[0]) != want {
		return nil, nil, nil, fmt.Errorf("there are %d edges, not %d", len(parts[0]), want)
	}
	return r, parts[0], delays, nil
}

// drilled: the log of a drill is what the devices sent, and the review finds
// every note.
func (tr *trial) drilled() (string, error) {
	r, edges, delays, err := tr.drill("drill")
	if err != nil {
		return "", err
	}
	tr.edges, tr.delays = edges, delays
	if !tr.timed {
		return fmt.Sprintf("%d edges", len(edges)), tr.givenBack()
	}
	_, out, _ := heeltoe("review", r.log, "--json")
	var review struct {
		Summary struct{ Notes, Inner, Absent, Stray int }
	}
	if err := json.Unmarshal([]byte(out), &review); err != nil {
		return "", err
	}
	if s := review.Summary; s.Notes != 2*len(rep) || s.Inner != s.Notes || s.Stray != 0 {
		return "", fmt.Errorf("the review says %+v", s)
	}
	figures := fmt.Sprintf("%d edges, ≤%.2f ms", len(edges), ms(slices.Max(delays)))
	// Nothing is lost by a report that is asked for a millisecond late, since the next one
	// tells the state; but it is said, and is to be rare. The program, the system and the
	// device share one processor here, and the library asks for a report only once it has
	// the one before, so that another thread of the program can keep it from that.
	if most := uint64(32 * slot / tr.units[0].interval() / 100); tr.missing > most {
		return "", fmt.Errorf("%d reports were asked for too late, more than 1 of 100", tr.missing)
	}
	if tr.missing > 0 {
		figures += fmt.Sprintf(" (%d late)", tr.missing)
	}
	return figures, tr.givenBack()
}

func ms(d time.Duration) float64 { return float64(d) / float64(time.Millisecond) }

// counted takes out the gaps that a pad's own count tells of, and keeps how many
// reports are missing by them: where the program, the system and the device share
// one processor, the program cannot always ask in time, and says so to a report.
func (tr *trial) counted(parts [][]edge, lost []uint32) ([][]edge, []uint32) {
	tr.missing = 0
	for i := len(lost) - 1; i >= 0; i-- {
		if lost[i] > 0 {
			tr.missing += uint64(lost[i])
			parts[i] = append(parts[i], parts[i+1]...)
			parts, lost = slices.Delete(parts, i+1, i+2), slices.Delete(lost, i, i+1)
		}
	}
	return parts, lost
}

// pause sleeps to a moment, or where that has gone by, since the device keeps no
// time, until what was pressed last has arrived.
func pause(until time.Duration) {
	bench.SleepUntil(max(until, bench.Monotonic()+50*time.Millisecond))
}

// replugged: the plug of one device is pulled while a panel is down, and put
// into another port; the run goes on after one gap.
func (tr *trial) replugged() (string, error) {
	r, err := tr.runDrill("replug", tr.reps(3))
	if err != nil {
		return "", err
	}
	u, others := tr.units[len(tr.units)-1], tr.units[:len(tr.units)-1]
	err = tr.play(r.first, strokesOf(tr.layout, 0))
	if err == nil {
		err = tr.play(r.first, strokesOf(tr.layout, 1)[:3])
	}
	if err != nil {
		return "", err
	}
	was := busID(u)
	pause(r.first + 18*slot + 18*time.Millisecond) // panels are down, and no report is on its way
	if err := u.unplug(); err != nil {
		return "", err
	}
	before, _ := u.sent()
	pulled := bench.Monotonic()
	if err := wait(2*time.Second, "it to be gone", hasGone(u)); err != nil {
		return "", err
	}
	if err := tr.plug(u); err != nil {
		return "", err
	}
	if err := permit(u); err != nil {
		return "", err
	}
	if is := busID(u); is == was {
		return "", fmt.Errorf("it is in the same port, %s", is)
	}
	if err := wait(2*time.Second, "it to be read again", isRead(u)); err != nil {
		return "", fmt.Errorf("%w; %s", err, r.said())
	}
	away := bench.Monotonic() - pulled
	bench.SleepUntil(max(r.first+32*slot-input.FirstReport.Duration(), bench.Monotonic()+2*input.FirstReport.Duration()))
	if err := tr.play(r.first, strokesOf(tr.layout, 2)); err != nil {
		return "", err
	}
	code, out, errs := tr.over(r)
	if code != 0 || !strings.Contains(out, "gap: the pad was away") {
		return "", fmt.Errorf("exit %d: %s%s", code, out, errs)
	}
	parts, lost, err := logged(r.log)
	if err != nil {
		return "", err
	}
	if tr.counts {
		parts, lost = tr.counted(parts, lost)
	}
	if len(lost) != 1 || lost[0] != 0 {
		return "", fmt.Errorf("gaps %v", lost)
	}
	if _, err := same(of(parts[0], u.panels()), before); err != nil {
		return "", fmt.Errorf("before the gap: %w", err)
	}
	after, _ := u.sent()
	if _, err := same(of(parts[1], u.panels()), after); err != nil {
		return "", fmt.Errorf("after the gap: %w", err)
	}
	for _, other := range others {
		sent, _ := other.sent()
		if _, err := same(of(slices.Concat(parts...), other.panels()), sent); err != nil {
			return "", fmt.Errorf("of the other device: %w", err)
		}
	}
	return fmt.Sprintf("%.2f s away", away.Seconds()), tr.givenBack()
}

// unplugged: the plug is pulled for good; the run ends, says so, and its log is whole.
func (tr *trial) unplugged() (string, error) {
	r, err := tr.runDrill("unplug", tr.reps(50))
	if err != nil {
		return "", err
	}
	u := tr.units[0]
	if err := tr.play(r.first, strokesOf(tr.layout, 0)); err != nil {
		return "", err
	}
	pause(r.first + 20*slot)
	if err := u.unplug(); err != nil {
		return "", err
	}
	sent, _ := u.sent()
	pulled := bench.Monotonic()
	code, out, errs := r.end()
	took := bench.Monotonic() - pulled
	if code != 3 || !strings.Contains(errs, "unplugged") || !strings.Contains(out, "kept as") {
		return "", fmt.Errorf("exit %d: %s%s", code, out, errs)
	}
	parts, lost, err := logged(r.log)
	if err != nil {
		return "", err
	}
	if tr.counts {
		parts, lost = tr.counted(parts, lost)
	}
	if len(lost) > 0 {
		return "", fmt.Errorf("gaps %v", lost)
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
	_, err = same(of(parts[0], u.panels()), sent)
	return fmt.Sprintf("%.1f s", took.Seconds()), err
}

// recorded: for half a minute at 1000 Hz no report is lost or out of order, nor a stamp off.
func (tr *trial) recorded() (string, error) {
	d := tr.units[0].(*made)
	file := "/home/player/" + tr.name + "-recording" + tr.again + ".jsonl"
	d.Sent()
	const seconds = 30
	code, out, errs := heeltoe("pads", "record", file, "--seconds", fmt.Sprint(seconds), "--device", d.identity().String())
	sent := d.Sent()
	if code != 0 {
		return "", fmt.Errorf("exit %d: %s%s", code, out, errs)
	}
	f, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer f.Close()
	rr, err := record.NewReportReader(file, f)
	if err != nil {
		return "", err
	}
	n, late, worst := 0, 0, 0
	var least, largest time.Duration // of stamp less device's time, less that of the first
	var zero time.Duration
	for ; ; n++ {
		l, err := rr.Next()
		if err != nil {
			break
		}
		if n >= len(sent) || !slices.Equal(l.Bytes, sent[n].Bytes) {
			return "", fmt.Errorf("report %d is not what the device sent", n)
		}
		if n > 0 && sent[n].Frame != sent[n-1].Frame+1 {
			late++ // the host did not ask in time; what it asked for it got
		}
		off := l.T.Duration() - sent[n].At
		if n == 0 {
			zero = off
		}
		if off-zero < least || off-zero > largest {
			worst = n
		}
		least, largest = min(least, off-zero), max(largest, off-zero)
	}
	// What was on its way when the recording was stopped is not in it.
	if n < seconds*1000-50 || len(sent)-n > 50 || len(rr.Warnings) > 0 {
		return "", fmt.Errorf("%d reports of %d were recorded, warnings %v", n, len(sent), rr.Warnings)
	}
	if late*100 > n {
		return "", fmt.Errorf("%d of %d reports were asked for too late, more than 1 of 100", late, n)
	}
	if largest-least > most {
		return "", stampOff(fmt.Sprintf("the stamps wander by %v, the latest to do so was that of report %d", largest-least, worst))
	}
	return fmt.Sprintf("%d reports", n), tr.givenBack()
}
