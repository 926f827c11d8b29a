package bench_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input/usb/bench"
)

// withTime tells whether the pad's presses come when they are to: those of QEMU's
// keyboard come in the time of the machine outside, so that taps and overlaps of
// some milliseconds are not what was asked for.
func withTime(p *guestPad) bool { return p.pad != nil }

// requests is what heeltoe pads check asks for.
var requests = regexp.MustCompile(`^(Press|Tap|Step from|Strike) (\S+)(?: (?:to|and) (\S+))?.* (\d+) (?:times|steps)`)

// answer gives the strokes of a player who does what is asked: presses of 100 ms,
// taps of 40, steps that overlap by 25, strikes at once.
func answer(line string, l *pad.Layout) []stroke {
	m := requests.FindStringSubmatch(line)
	if m == nil {
		return nil
	}
	n, _ := strconv.Atoi(m[4]) // it is digits
	first, _ := l.Lookup(m[2])
	second, _ := l.Lookup(m[3])
	const ms = time.Millisecond
	var out []stroke
	for k := range time.Duration(n) {
		switch m[1] {
		case "Press":
			out = append(out, stroke{200*ms + 300*ms*k, first, 100 * ms})
		case "Tap":
			out = append(out, stroke{200*ms + 90*ms*k, first, 40 * ms})
		case "Step from":
			out = append(out, stroke{200*ms + 200*ms*k, []pad.Panel{first, second}[k%2], 225 * ms})
		case "Strike":
			out = append(out, stroke{200*ms + 300*ms*k, first, 100 * ms}, stroke{200*ms + 300*ms*k, second, 100 * ms})
		}
	}
	return out
}

// judged: heeltoe pads check finds a sound pad sound, and measures what it is made of.
func (tr *trial) judged() (string, error) {
	p, err := start("pads", "check", tr.name, "--json")
	if err != nil {
		return "", err
	}
	if err := tr.converse(p, answer); err != nil {
		return "", err
	}
	return tr.judge(p)
}

// converse answers what a program asks for on standard error, until its end.
func (tr *trial) converse(p *program, answer func(line string, l *pad.Layout) []stroke) error {
	over := make(chan struct{})
	go func() {
		defer close(over)
		for range p.lines {
		}
	}()
	for told := 0; ; bench.SleepUntil(bench.Monotonic() + 20*time.Millisecond) {
		for line := range strings.Lines(p.warned()[told:]) {
			if !strings.HasSuffix(line, "\n") {
				break // the rest of it is still to come
			}
			told += len(line)
			if err := tr.play(bench.Monotonic(), answer(line, tr.layout)); err != nil {
				return err
			}
		}
		select {
		case <-over:
			return nil
		default:
		}
	}
}

// judge looks at the findings.
func (tr *trial) judge(p *program) (string, error) {
	code, out, errs := p.end()
	var f struct {
		Devices []struct{ Interval_us, Jitter_us, Quantisation_us int }
		Panels  []struct {
			Panel                   string
			Asked, Presses, Chatter int
			Dead, Stuck             bool
			Fires_with              []string
		}
		Taps, Taps_asked int
		Overlap_us       *int
		Seam             *struct{ Strikes, Delay_us int }
		Verdict          []string
	}
	if err := json.Unmarshal([]byte(out), &f); err != nil || code != 0 {
		return "", fmt.Errorf("exit %d, %v: %s%s", code, err, out, errs)
	}
	for _, p := range f.Panels {
		if p.Asked == 0 || p.Presses != p.Asked || p.Chatter > 0 || p.Dead || p.Stuck || len(p.Fires_with) > 0 {
			return "", fmt.Errorf("found %+v", p)
		}
	}
	interval := int(tr.units[0].interval() / time.Microsecond)
	for _, d := range f.Devices {
		if d.Interval_us < interval-50 || d.Interval_us > interval+50 {
			return "", fmt.Errorf("an interval of %d µs is found as %+v", interval, d)
		}
	}
	if f.Taps != f.Taps_asked || f.Overlap_us == nil || *f.Overlap_us < 25_000-interval-500 || *f.Overlap_us > 25_000+interval+500 {
		return "", fmt.Errorf("taps %d of %d, overlap %v, of %s", f.Taps, f.Taps_asked, f.Overlap_us, out)
	}
	if s := f.Seam; (s != nil) != (len(tr.units) == 2) || s != nil && (s.Strikes != 10 || max(s.Delay_us, -s.Delay_us) > interval) {
		return "", fmt.Errorf("of the seam: %+v", s)
	}
	return fmt.Sprintf("%.1f ms", float64(f.Devices[0].Interval_us)/1000), tr.givenBack()
}
