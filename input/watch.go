package input

import "heeltoe/footing/pad"

// Patience is how long a reader may stay away before reports are taken to be
// missing. Between the device and the reader lies a queue that drops the oldest
// without a word: 32 reports in the HID library, which last this long at 1000
// reports a second. Where the whole process was stopped it is less still: only
// one report at a time waits in the system.
const Patience = 32 * pad.Millisecond

// certain is how many reports in a row a byte must have counted by one to be
// taken for a counter: a whole round, so that it is known how it goes on at the end.
const certain = 256

// Watch tells how many reports of a device may be missing. Where the device
// counts its reports, in a byte that goes from 0 to 255 and round, that is exact
// and needs no teaching; else it is the most that can have come while the reader
// was away. It is for one goroutine and does not allocate once it has seen the
// longest report.
type Watch struct {
	interval pad.Time
	begun    bool
	last     pad.Time // when the read before returned
	could    int64    // reports that can have come while the reader was away, since the last one
	before   []byte   // the report before
	counted  []uint16 // by byte: how many reports in a row it counted, up to certain
	counter  int      // the byte that counts, or -1
}

// NewWatch makes the watch of a device that reports at most once in interval; 0
// stands for 1 ms, the fastest at full speed.
func NewWatch(interval pad.Time) *Watch {
	if interval <= 0 {
		interval = pad.Millisecond
	}
	return &Watch{interval: interval, counter: -1}
}

// Begin forgets what came before: the device has been opened.
func (w *Watch) Begin() { *w = Watch{interval: w.interval, counter: -1} }

// Read takes a read that returned at t, with a report or, where that is empty,
// without. It gives how many reports may be missing before it, 0 where none is.
func (w *Watch) Read(t pad.Time, report []byte) (missing uint32) {
	if !w.begun {
		w.begun, w.last = true, t
	}
	if away := t - w.last; away > Patience {
		w.could += int64(away / w.interval)
	}
	w.last = t
	could := w.could
	if len(report) == 0 {
		if w.counter >= 0 {
			return 0 // the next report will tell
		}
		w.could = 0
		return uint32(could)
	}
	w.could = 0
	was := w.counter
	step := w.follow(report, could)
	if was < 0 || w.counter != was {
		return uint32(max(could-1, 0)) // this one has come
	}
	n := int64(step) - 1
	if could > n {
		n += (could - n + 128) / 256 * 256 // whole rounds, of which only time tells
	}
	return uint32(n)
}

// follow compares a report with the one before, between which others can have
// come. It gives by how much the counter went on, modulo 256; where it stood
// still, and not for a whole round, it is no counter.
func (w *Watch) follow(report []byte, could int64) (step uint8) {
	if len(report) != len(w.before) {
		w.before = append(w.before[:0], report...)
		w.counted = append(w.counted[:0], make([]uint16, len(report))...)
		w.counter = -1
		return 0
	}
	for i, b := range report {
		d := b - w.before[i]
		switch {
		case d == 1:
			w.counted[i] = min(w.counted[i]+1, certain)
		case i == w.counter && (d != 0 || could >= certain/2):
			step = d
			continue
		default:
			w.counted[i] = 0
			if i == w.counter {
				w.counter = -1
			}
		}
		if i == w.counter {
			step = d
		}
		if w.counter < 0 && w.counted[i] == certain {
			w.counter = i
		}
	}
	copy(w.before, report)
	return step
}
