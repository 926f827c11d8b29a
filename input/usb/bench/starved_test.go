package bench_test

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"syscall"
	"time"

	"heeltoe/input/usb/bench"
)

// tolerated are reports that can be missing before the watch is sure of the count.
const tolerated = 10

// stopped is for how long the process gets no processor time.
const stopped = 100 * time.Millisecond

// gapSaid is how the run tells of reports that may be missing.
var gapSaid = regexp.MustCompile(`up to (\d+) reports may be missing`)

// starved: the process is stopped in mid-run while panels are struck. The run
// says how many reports may be missing: exactly, where the pad counts them, and
// never fewer than the device could not get rid of. What the host did take is
// in the log.
func (tr *trial) starved() (string, error) {
	r, err := tr.runDrill("starved", tr.reps(1))
	if err != nil {
		return "", err
	}
	if err := tr.play(r.first, strokesOf(tr.layout, 0)); err != nil {
		return "", err
	}
	// From before the second note on: the first goes up within it.
	bench.SleepUntil(r.first + slot - 20*time.Millisecond)
	if err := r.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
		return "", err
	}
	bench.SleepUntil(bench.Monotonic() + stopped)
	if err := r.cmd.Process.Signal(syscall.SIGCONT); err != nil {
		return "", err
	}
	code, out, errs := tr.over(r)
	said := gapSaid.FindStringSubmatch(out)
	if code != 0 || said == nil {
		return "", fmt.Errorf("exit %d, and no gap was told of: %s%s", code, out, errs)
	}
	parts, lost, err := logged(r.log)
	if err != nil {
		return "", err
	}
	var got []edge
	for _, p := range parts {
		got = append(got, p...)
	}
	largest := uint64(0)
	for _, n := range lost {
		largest = max(largest, uint64(n))
	}
	u := tr.units[0]
	could := uint64((stopped + 40*time.Millisecond) / u.interval())
	switch total, err := strconv.ParseUint(said[1], 10, 32); {
	case err != nil || !slices.Contains(lost, uint32(total)):
		return "", fmt.Errorf("it says %q, the log %d", said[0], lost)
	case largest < uint64(stopped/u.interval())-2 || largest > could:
		return "", fmt.Errorf("it says that %d are missing, %d can be", largest, could)
	case len(lost) != len(tr.units) && tr.timed && !tr.counts:
		return "", fmt.Errorf("%d gaps: %v", len(lost), lost)
	}
	for _, u := range tr.units {
		sent, missed := u.sent()
		if tr.counts {
			if _, _ = tr.counted(slices.Clone(parts), slices.Clone(lost)); tr.missing > missed || tr.missing+tolerated < missed {
				return "", fmt.Errorf("it says that %d are missing, the device could not send %d", tr.missing, missed)
			}
		}
		if err := sameEdges(of(got, u.panels()), sent); err != nil {
			return "", err
		}
	}
	return fmt.Sprintf("%d", largest), tr.givenBack()
}
