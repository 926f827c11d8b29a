package input

import (
	"cmp"
	"errors"
	"fmt"
	"math/bits"
	"slices"
	"strings"

	"heeltoe/footing/pad"
)

// Numbers of teaching.
const (
	// DefaultPresses is how often each panel is to be pressed.
	DefaultPresses = 3
	// RestTime is how long the rest phase should be: long enough to see noise.
	RestTime = 2 * pad.Second
	// Settle is how long a panel must be up for its phase to be done. It is
	// longer than a foot needs to leave the plate.
	Settle = 400 * pad.Millisecond
	// Bounce is how long a panel must be up between two presses of the teaching;
	// shorter is chatter of its contact. The player presses slowly.
	Bounce = 50 * pad.Millisecond
	// MaxTeachBytes is the most that a teacher keeps of the reports.
	MaxTeachBytes = 128 << 20
)

// Rest is the phase in which nobody stands on the pad.
const Rest = pad.NoPanel

// Teacher finds out which part of the reports follows which panel. It is shown
// first the pad at rest and then each panel, pressed and released a number of
// times while the others stay up; it is told which phase it is in and gets all
// reports with their times. It opens nothing and asks nobody, so that a pad can
// be taught live or from a recording. It is for one goroutine.
type Teacher struct {
	layout  *pad.Layout
	presses int
	descs   [MaxDevices]*Descriptor
	phases  map[pad.Panel]*phase
	order   []pad.Panel // phases as they came, the repeated at their last place
	now     *phase
	bytes   int

	numbered [MaxDevices]bool // as the tracks are built
}

// phase is the reports of one phase.
type phase struct {
	panel   pad.Panel
	began   pad.Time // when it was first heard of; pad.Never before that
	reports []stamped
	arena   []byte
	tracks  map[stream]*track // built when the phase has ended
}

type stamped struct {
	t          pad.Time
	start, end int32
	device     uint8
}

// stream is reports of one kind: of one device, with one ID.
type stream struct{ device, report uint8 }

// track is a phase's reports in one stream, all of the same length.
type track struct {
	t    []pad.Time
	data []byte
	size int
}

func (t *track) at(i int) []byte { return t.data[i*t.size : (i+1)*t.size] }

// NewTeacher makes a teacher for the panels of l, each pressed the number of
// times given (0: DefaultPresses).
func NewTeacher(l *pad.Layout, presses int) *Teacher {
	if presses <= 0 {
		presses = DefaultPresses
	}
	return &Teacher{layout: l, presses: presses, phases: make(map[pad.Panel]*phase)}
}

// Describe gives the teacher a device's report descriptor. It then knows
// whether reports are numbered, and what is a button and what a value; it does
// not depend on it. It is called before the first phase.
func (t *Teacher) Describe(device int, d *Descriptor) {
	if device >= 0 && device < MaxDevices {
		t.descs[device] = d
	}
}

// Phase begins a phase: Rest, or a panel of the layout. A phase that was there
// before is forgotten and done again. The rest phase comes first.
func (t *Teacher) Phase(p pad.Panel) error {
	if p != Rest && int(p) >= len(t.layout.Panels) {
		return fmt.Errorf("the layout %s has no panel %d", t.layout.Name, p)
	}
	if p != Rest && t.phases[Rest] == nil {
		return errors.New("the pad must be seen at rest before the first panel is pressed")
	}
	t.End()
	if old := t.phases[p]; old != nil {
		t.bytes -= len(old.arena)
		t.order = slices.DeleteFunc(t.order, func(q pad.Panel) bool { return q == p })
	}
	t.now = &phase{panel: p, began: pad.Never}
	t.phases[p] = t.now
	t.order = append(t.order, p)
	return nil
}

// End ends the phase that goes on: what comes until the next begins is ignored.
func (t *Teacher) End() { t.now = nil }

// Feed takes a report of the phase that goes on, read at the time given. It
// does not keep report. It fails where the reports fill MaxTeachBytes.
func (t *Teacher) Feed(at pad.Time, device int, report []byte) error {
	if t.now == nil || device < 0 || device >= MaxDevices || len(report) == 0 {
		return nil
	}
	if len(report) > MaxReportBytes {
		report = report[:MaxReportBytes]
	}
	if t.bytes+len(report) > MaxTeachBytes {
		return fmt.Errorf("the teaching goes on for too long: more than %d MiB of reports came; start again", MaxTeachBytes>>20)
	}
	p := t.now
	p.began = min(p.began, at)
	start := int32(len(p.arena))
	p.arena = append(p.arena, report...)
	p.reports = append(p.reports, stamped{at, start, int32(len(p.arena)), uint8(device)})
	p.tracks = nil
	t.bytes += len(report)
	return nil
}

// read says how to read the reports: whether those of each device are numbered.
func (t *Teacher) read(numbered [MaxDevices]bool) {
	if numbered != t.numbered {
		t.numbered = numbered
		for _, p := range t.phases {
			p.tracks = nil
		}
	}
}

// readings gives the ways to read the reports that are worth a try. A device
// with a descriptor says whether its reports are numbered. One without may
// number them where their first byte takes 2 to 16 values, none of them 0; it
// is first read as though it did not. A single ID needs no telling.
func (t *Teacher) readings() [][MaxDevices]bool {
	var seen [MaxDevices][256]bool
	for _, p := range t.phases {
		for _, r := range p.reports {
			seen[r.device][p.arena[r.start]] = true
		}
	}
	out := [][MaxDevices]bool{{}}
	for d := range seen {
		n := 0
		for _, s := range seen[d] {
			if s {
				n++
			}
		}
		switch may := n >= 2 && n <= 16 && !seen[d][0]; {
		case t.descs[d] != nil && t.descs[d].Numbered:
			for i := range out {
				out[i][d] = true
			}
		case t.descs[d] == nil && may:
			for _, o := range slices.Clone(out) {
				o[d] = true
				out = append(out, o)
			}
		}
	}
	return out
}

// build sorts a phase's reports by stream. The first report of the phase sets
// a stream's length; shorter ones are left out.
func (t *Teacher) build(p *phase) map[stream]*track {
	if p.tracks != nil {
		return p.tracks
	}
	p.tracks = make(map[stream]*track)
	for _, r := range p.reports {
		b := p.arena[r.start:r.end]
		k := stream{device: r.device}
		if t.numbered[r.device] {
			k.report = b[0]
		}
		tr := p.tracks[k]
		if tr == nil {
			tr = &track{size: len(b)}
			p.tracks[k] = tr
		}
		if len(b) < tr.size {
			continue
		}
		tr.t = append(tr.t, r.t)
		tr.data = append(tr.data, b[:tr.size]...)
	}
	return p.tracks
}

// span is one press as a candidate shows it.
type span struct{ down, up pad.Time }

// candidate is a sensor that follows a panel: its presses in that panel's
// phase, and whether it is down after each report of it.
type candidate struct {
	Sensor
	key     stream
	spans   []span
	down    []bool
	chatter int // presses that were merged
	score   int // of a value: swing over noise, capped
	gap     int32
}

func (c *candidate) where() string { return c.Sensor.String() }

// follow runs the sensor over a track and gives its presses.
func (c *candidate) follow(tr *track) {
	was := false
	for i := range tr.t {
		now := c.Sensor.down(tr.at(i), was)
		c.down = append(c.down, now)
		switch {
		case now && !was:
			if n := len(c.spans); n > 0 && tr.t[i]-c.spans[n-1].up < Bounce {
				c.spans[n-1].up = pad.Never
				c.chatter++
			} else {
				c.spans = append(c.spans, span{tr.t[i], pad.Never})
			}
		case !now && was:
			c.spans[len(c.spans)-1].up = tr.t[i]
		}
		was = now
	}
}

// column is what one stream shows of panel p: its phase and all the others.
type column struct {
	key    stream
	size   int // bytes that all tracks have
	own    *track
	others []*track // rest first
	idle   []byte   // a report at rest
	fixed  []byte   // bits that are the same in all the others
}

// columns gives a column for each stream that speaks in p's phase.
func (t *Teacher) columns(p pad.Panel) []column {
	ph := t.phases[p]
	if ph == nil {
		return nil
	}
	var out []column
	for key, own := range t.build(ph) {
		c := column{key: key, own: own, size: own.size}
		var rested *track
		for _, q := range t.order {
			if q == p {
				continue
			}
			if tr := t.build(t.phases[q])[key]; tr != nil && len(tr.t) > 0 {
				c.others = append(c.others, tr)
				c.size = min(c.size, tr.size)
				if q == Rest {
					rested = tr
				}
			}
		}
		// At rest: as in the rest phase, or else, where the device speaks only of
		// changes, as at the end of the first phase in which it spoke.
		switch {
		case rested != nil:
			c.idle = rested.at(0)
		case len(c.others) > 0:
			c.idle = c.others[0].at(len(c.others[0].t) - 1)
		default:
			c.idle = own.at(len(own.t) - 1)
		}
		c.idle = c.idle[:c.size]
		c.fixed = make([]byte, c.size)
		for b := range c.fixed {
			c.fixed[b] = 0xff
		}
		for _, tr := range c.others {
			for i := range tr.t {
				for b, v := range tr.at(i)[:c.size] {
					c.fixed[b] &^= v ^ c.idle[b]
				}
			}
		}
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b column) int {
		return cmp.Or(cmp.Compare(a.key.device, b.key.device), cmp.Compare(a.key.report, b.key.report))
	})
	return out
}

// mine gives, for each byte, the bits that move in the panel's phase and in no other.
func (c *column) mine() []byte {
	m := make([]byte, c.size)
	for i := range c.own.t {
		for b, v := range c.own.at(i)[:c.size] {
			m[b] |= v ^ c.idle[b]
		}
	}
	for b := range m {
		m[b] &= c.fixed[b]
	}
	if c.key.report != 0 {
		m[0] = 0
	}
	return m
}

// candidates gives all that goes up and down in p's phase alone, however often:
// bits, and bytes and words as values.
func (t *Teacher) candidates(p pad.Panel) []candidate {
	var out []candidate
	for _, c := range t.columns(p) {
		mine := c.mine()
		analogue := make([]bool, c.size)
		values := t.values(p, &c, mine, analogue)
		for b, m := range mine {
			if analogue[b] {
				continue
			}
			for ; m != 0; m &= m - 1 {
				bit := m & -m
				k := candidate{key: c.key, Sensor: Sensor{Panel: p, Device: c.key.device, Report: c.key.report,
					Offset: b, Mask: bit, ActiveLow: c.idle[b]&bit != 0}}
				k.follow(c.own)
				out = append(out, k)
			}
		}
		out = append(out, values...)
	}
	return t.described(out)
}

// described keeps, where the descriptors bear out some of the candidates, only those.
func (t *Teacher) described(cs []candidate) []candidate {
	if slices.ContainsFunc(cs, func(c candidate) bool { return t.borneOut(&c.Sensor) && len(c.spans) == t.presses }) {
		cs = slices.DeleteFunc(cs, func(c candidate) bool { return !t.borneOut(&c.Sensor) })
	}
	return cs
}

// borneOut tells whether the device's descriptor has the sensor as a field: of
// one bit for bits, of its size for a value.
func (t *Teacher) borneOut(s *Sensor) bool {
	d := t.descs[s.Device]
	if d == nil {
		return false
	}
	at, size := 8*s.Offset, 8*s.Format.width()
	if s.Format == Bits {
		at, size = at+bits.TrailingZeros8(s.Mask), 1
	}
	return slices.ContainsFunc(d.Fields, func(f Field) bool {
		return f.Report == s.Report && f.Bit == at && f.Size == size && !f.Padding &&
			(size == 1 || (f.Min < 0) == (s.Format == S8 || s.Format == S16))
	})
}

// Numbers of the search for values.
const (
	minSwing   = 8  // least change of a value that is a press
	fineSwing  = 16 // a byte that changes less may be the high one of a word
	overNoise  = 3  // a press is at least this many times the noise
	scoreLimit = 20 // clear is clear: more swing over noise than this is no better
	manyValues = 5  // a byte with fewer values is bits
)

// values gives the bytes and words that swing away from their noise in p's
// phase, the best one of each byte. It marks bytes whose bits are not to be
// read alone, because they are part of a value.
func (t *Teacher) values(p pad.Panel, c *column, mine []byte, analogue []bool) []candidate {
	var all []candidate
	first := 0
	if c.key.report != 0 {
		first = 1
	}
	coarse := func(b int) bool { // the byte alone is too coarse to be the value
		k, ok := t.value(p, c, U8, b)
		return !ok || k.gap < fineSwing
	}
	for b := first; b < c.size; b++ {
		if b+1 < c.size && (mine[b+1] != 0 || c.fixed[b+1] != 0xff) && (mine[b] != 0 || coarse(b+1)) {
			for _, f := range []Format{U16, S16} {
				if k, ok := t.value(p, c, f, b); ok {
					all = append(all, k)
				}
			}
		}
		for _, f := range []Format{U8, S8} {
			if k, ok := t.value(p, c, f, b); ok {
				all = append(all, k)
			}
		}
	}
	// A low byte alone is no value where it makes a word with its neighbour.
	all = slices.DeleteFunc(all, func(k candidate) bool {
		return k.Format.width() == 1 && slices.ContainsFunc(all, func(w candidate) bool {
			return w.Format.width() == 2 && w.Offset == k.Offset && w.score >= k.score
		})
	})
	slices.SortStableFunc(all, func(a, b candidate) int {
		return cmp.Or(
			cmp.Compare(abs(len(a.spans)-t.presses), abs(len(b.spans)-t.presses)),
			cmp.Compare(a.chatter, b.chatter), cmp.Compare(b.score, a.score),
			cmp.Compare(a.Format.width(), b.Format.width()), cmp.Compare(a.Offset, b.Offset),
			cmp.Compare(a.Format, b.Format))
	})
	taken := make([]bool, c.size)
	var out []candidate
	for _, k := range all {
		end := k.Offset + k.Format.width()
		if slices.Contains(taken[k.Offset:end], true) {
			continue
		}
		// A few bits, each on or off, are not a value, and no part of another, unless
		// the device says so: with little noise the high bits of a value move as switches do.
		value := t.borneOut(&k.Sensor) || !c.switches(k.Offset, end, mine) || c.steady(k.Offset, end, mine) > k.chatter
		for b := k.Offset; b < end; b++ {
			taken[b], analogue[b] = true, value
		}
		if value {
			out = append(out, k)
		}
	}
	// Where a word's high byte was enough, its low byte's bits say nothing.
	for _, w := range all {
		if w.Format.width() == 2 && analogue[w.Offset+1] {
			analogue[w.Offset] = true
		}
	}
	return out
}

func abs(n int) int {
	if n < 0 {
		return -n
	}
	return n
}

// switches tells whether bytes b to end-1 move in p's phase only as switches do.
func (c *column) switches(b, end int, mine []byte) bool {
	if end-b == 1 {
		return c.plain(b, mine)
	}
	low, high := c.plain(b, mine), c.plain(b+1, mine)
	return high && (low || mine[b] == 0) || low && mine[b+1] == 0
}

// steady gives the chatter of the bit of the panel's in bytes b to end-1 that
// has the least.
func (c *column) steady(b, end int, mine []byte) int {
	least := len(c.own.t)
	for ; b < end; b++ {
		for m := mine[b]; m != 0; m &= m - 1 {
			k := candidate{Sensor: Sensor{Offset: b, Mask: m & -m, ActiveLow: c.idle[b]&m&-m != 0}}
			k.follow(c.own)
			least = min(least, k.chatter)
		}
	}
	return least
}

// plain tells whether byte b has bits that are the panel's alone, and they move
// as switches do: they take few values, and none goes back while another comes,
// as the bits of a number do where it carries.
func (c *column) plain(b int, mine []byte) bool {
	if mine[b] == 0 {
		return false
	}
	var seen [256]bool
	n := 0
	was := byte(0)
	for i := range c.own.t {
		v := (c.own.at(i)[b] ^ c.idle[b]) & mine[b]
		if v&^was != 0 && was&^v != 0 {
			return false
		}
		was = v
		if !seen[v] {
			seen[v] = true
			n++
		}
	}
	return n < manyValues
}

// value reads byte or word b as a value: its noise while the panel is up, the
// level of its presses, and thresholds between. ok is false where it does not
// swing.
func (t *Teacher) value(p pad.Panel, c *column, f Format, b int) (k candidate, ok bool) {
	lo, hi := f.at(c.idle, b), f.at(c.idle, b)
	for _, tr := range c.others {
		for i := range tr.t {
			v := f.at(tr.at(i), b)
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	least, most := lo, hi
	for i := range c.own.t {
		v := f.at(c.own.at(i), b)
		least, most = min(least, v), max(most, v)
	}
	noise := hi - lo
	k = candidate{key: c.key, Sensor: Sensor{Panel: p, Device: c.key.device, Report: c.key.report, Offset: b, Format: f}}
	// The sign makes a falling value a rising one.
	sign, edge, swing := int32(1), hi, most-hi
	if lo-least > swing {
		sign, edge, swing = -1, lo, lo-least
	}
	if swing < max(minSwing, overNoise*(noise+1)) {
		return k, false
	}
	// The peak of each press, by thresholds that a light press passes too.
	set := func(reach int32) {
		k.Press = edge + sign*(reach*2/5)
		k.Release = edge + sign*(reach/5)
	}
	set(swing)
	k.follow(c.own)
	lightest := swing
	for _, s := range k.spans {
		peak := int32(0)
		for i := range c.own.t {
			if c.own.t[i] >= s.down && c.own.t[i] < s.up {
				peak = max(peak, sign*(f.at(c.own.at(i), b)-edge))
			}
		}
		lightest = min(lightest, peak)
	}
	set(lightest)
	k.spans, k.down, k.chatter = nil, nil, 0
	k.follow(c.own)
	k.gap = lightest
	k.score = min(int(lightest/(noise+1)), scoreLimit)
	return k, true
}

// Progress tells how often the panel of the phase that goes on was seen to go
// down, and whether the phase is done at now: pressed as often as it should be,
// and up for Settle. It may be more often than that: the phase is then to be
// done again. The rest phase is done RestTime after its first report or the
// first time that Progress is called.
func (t *Teacher) Progress(now pad.Time) (presses int, done bool) {
	p := t.now
	switch {
	case p == nil:
		return 0, false
	case p.panel == Rest:
		// A pad that speaks of changes only says nothing here.
		p.began = min(p.began, now)
		return 0, now-p.began >= RestTime
	}
	best := 0 // presses of the candidate that is done with the fewest
	for _, way := range t.readings() {
		t.read(way)
		for _, c := range t.candidates(p.panel) {
			n := len(c.spans)
			if n <= t.presses {
				presses = max(presses, n)
			}
			up := n > 0 && c.spans[n-1].up != pad.Never
			if n >= t.presses && up && now-c.spans[n-1].up >= Settle && (best == 0 || n < best) {
				best = n
			}
		}
	}
	if best > 0 {
		return best, true
	}
	return presses, false
}

// Refusal is why a panel could not be taught and what to do.
type Refusal struct {
	Panel pad.Panel
	Why   string
}

// Unclear is the error of a teaching that does not say for every panel where it
// is to be read.
type Unclear struct {
	Layout   *pad.Layout
	Refusals []Refusal // at least one, in panel order
}

func (u *Unclear) Error() string {
	var b strings.Builder
	for i, r := range u.Refusals {
		if i > 0 {
			b.WriteString("; ")
		}
		fmt.Fprintf(&b, "%s: %s", u.Layout.ID(r.Panel), r.Why)
	}
	return b.String()
}

// lesson is what one way of reading the reports says.
type lesson struct {
	sensors  []Sensor
	remarks  []string
	refusals []Refusal
	chatter  int  // presses of the sensors that had to be merged
	split    bool // a panel shows in several reports of a device
}

// better tells whether l says more than k: fewer refusals, and a panel that
// does not flicker because reports of two kinds are taken for one.
func (l *lesson) better(k *lesson) bool {
	if len(l.refusals) != len(k.refusals) {
		return len(l.refusals) < len(k.refusals)
	}
	return l.chatter < k.chatter && !l.split
}

// Sensors gives the sensor of each panel, in panel order, and remarks for the
// player. It gives an *Unclear where a panel's sensor is not certain.
func (t *Teacher) Sensors() (sensors []Sensor, remarks []string, err error) {
	t.End()
	var best *lesson
	for _, way := range t.readings() {
		t.read(way)
		l := t.lesson()
		if best == nil || l.better(best) {
			best = l
		}
	}
	if len(best.refusals) > 0 {
		return nil, nil, &Unclear{Layout: t.layout, Refusals: best.refusals}
	}
	return best.sensors, best.remarks, nil
}

func (t *Teacher) lesson() *lesson {
	l := &lesson{}
	for i := range t.layout.Panels {
		p := pad.Panel(i)
		good, why := t.good(p)
		if why != "" {
			l.refusals = append(l.refusals, Refusal{p, why})
			continue
		}
		best, remark := choose(good)
		if remark != "" {
			l.remarks = append(l.remarks, t.layout.ID(p)+": "+remark)
		}
		l.sensors = append(l.sensors, best.Sensor)
		l.chatter += best.chatter
		l.split = l.split || slices.ContainsFunc(good, func(c candidate) bool {
			return c.key.device == best.key.device && c.key.report != best.key.report
		})
	}
	return l
}

// Map is Sensors as a map of the devices given.
func (t *Teacher) Map(devices []Device) (m *Map, remarks []string, err error) {
	sensors, remarks, err := t.Sensors()
	if err != nil {
		return nil, nil, err
	}
	m = &Map{Layout: t.layout, Devices: devices, Sensors: sensors}
	return m, remarks, m.Check()
}

// good gives the candidates that follow p, the first to be preferred first, or
// says why there are none that can be trusted.
func (t *Teacher) good(p pad.Panel) (good []candidate, why string) {
	if t.phases[p] == nil {
		return nil, "it was not asked for: teach it too"
	}
	all := t.candidates(p)
	for _, c := range all {
		if len(c.spans) == t.presses && c.spans[len(c.spans)-1].up != pad.Never {
			good = append(good, c)
		}
	}
	if len(good) == 0 {
		return nil, t.whyNone(p, all)
	}
	// A bit within a value flickers; what follows the foot does not, or not more
	// than its contact does.
	least := slices.MinFunc(good, func(a, b candidate) int { return a.chatter - b.chatter }).chatter
	good = slices.DeleteFunc(good, func(c candidate) bool { return c.chatter > least })
	slices.SortStableFunc(good, func(a, b candidate) int {
		return cmp.Or(
			cmp.Compare(min(a.Format, 1), min(b.Format, 1)), // bits before values
			cmp.Compare(a.key.device, b.key.device), cmp.Compare(a.key.report, b.key.report),
			cmp.Compare(a.Offset, b.Offset), cmp.Compare(a.Mask, b.Mask))
	})
	for i := range good[1:] {
		if c := &good[i+1]; !together(good[0].spans, c.spans) {
			return nil, fmt.Sprintf("two unrelated things moved at different times: %s and %s; step on this panel alone and do it again",
				good[0].where(), c.where())
		}
	}
	return good, ""
}

// choose takes one of the candidates that follow the same foot: the first of
// those that always agree and, where bits are not in step, the first to go down.
func choose(good []candidate) (best *candidate, remark string) {
	best = &good[0]
	if len(good) == 1 {
		return best, ""
	}
	same := true
	var where []string
	for i := range good {
		c := &good[i]
		where = append(where, c.where())
		same = same && c.key == good[0].key && slices.Equal(c.down, good[0].down)
		if c.Format == Bits && begin(c.spans) < begin(best.spans) {
			best = c
		}
	}
	list := strings.Join(where, " and ")
	if same {
		return best, fmt.Sprintf("these always agree: %s; the first is used", list)
	}
	return best, fmt.Sprintf("these go down together, though not in step: %s; used is %s", list, best.where())
}

// together tells whether the presses of a and b overlap one by one.
func together(a, b []span) bool {
	for i := range a {
		if a[i].down > b[i].up || b[i].down > a[i].up {
			return false
		}
	}
	return true
}

// begin gives the sum of the moments at which the presses begin.
func begin(s []span) pad.Time {
	var t pad.Time
	for i := range s {
		t += s[i].down
	}
	return t
}

// whyNone says why nothing follows p, and what to do.
func (t *Teacher) whyNone(p pad.Panel, all []candidate) string {
	if len(all) > 0 {
		c := all[0]
		for _, k := range all[1:] {
			if abs(len(k.spans)-t.presses) < abs(len(c.spans)-t.presses) {
				c = k
			}
		}
		if len(c.spans) == t.presses {
			return "it was still down at the end: step off it after each press and do it again"
		}
		return fmt.Sprintf("%s, not %d (%s): press it %d times, stepping off it in between, and do it again",
			times(len(c.spans)), t.presses, c.where(), t.presses)
	}
	// Something that moved here, but in other phases as well.
	for _, c := range t.columns(p) {
		for b := range c.size {
			var moved byte
			for i := range c.own.t {
				moved |= c.own.at(i)[b] ^ c.idle[b]
			}
			for m := moved; m != 0; m &= m - 1 {
				k := candidate{key: c.key, Sensor: Sensor{Device: c.key.device, Report: c.key.report, Offset: b, Mask: m & -m,
					ActiveLow: c.idle[b]&m&-m != 0}}
				k.follow(c.own)
				if len(k.spans) != t.presses {
					continue
				}
				var also []string
				rest := false
				for _, q := range t.order {
					tr := t.build(t.phases[q])[c.key]
					if q == p || tr == nil {
						continue
					}
					o := candidate{Sensor: k.Sensor}
					o.follow(tr)
					if len(o.spans) == 0 {
						continue
					}
					if q == Rest {
						rest = true
						break
					}
					also = append(also, t.layout.ID(q))
				}
				if !rest && len(also) > 0 {
					return fmt.Sprintf("%s follows it, but %s as well: step on one panel at a time and do it again; if it stays so, the pad cannot tell them apart (look at its wiring)",
						k.where(), strings.Join(also, " and "))
				}
			}
		}
	}
	if len(t.phases[p].reports) == 0 {
		return "no report came while it was asked for: look at the cable, and press in the middle of the panel"
	}
	return "nothing in the reports followed it: press in the middle of the panel; if it stays so, look at its sensor and cable"
}

func times(n int) string {
	switch n {
	case 1:
		return "it was seen to go down once"
	default:
		return fmt.Sprintf("it was seen to go down %d times", n)
	}
}
