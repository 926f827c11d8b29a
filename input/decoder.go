package input

import (
	"slices"

	"heeltoe/footing/pad"
)

// FirstReport is how long after Begin a device that reports all the time has
// sent its first report. A device whose first report comes later speaks only
// of changes, so that what is down in it has just gone down.
const FirstReport = 250 * pad.Millisecond

// Counts is how many reports a decoder took and what it made of them.
type Counts struct {
	Reports uint64 // all
	Other   uint64 // with an ID, or of a device, that holds no sensor
	Short   uint64 // too short for their sensors, the empty ones too; ignored
	Edges   uint64 // edges given
}

// Decoder turns reports into edges by a Map. It is for one goroutine.
type Decoder struct {
	devices []Device
	groups  []group // by device, then by report ID
	begun   [MaxDevices]pad.Time
	held    pad.PanelSet
	counts  Counts
}

// group is the sensors that come in the same reports, in panel order.
type group struct {
	device, report uint8
	known          bool // a report was seen
	length         int  // the least that a report must have
	sensors        []Sensor
	down           pad.PanelSet
}

// NewDecoder makes a decoder. It gives Check's error where the map is not sound.
func NewDecoder(m *Map) (*Decoder, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	d := &Decoder{devices: slices.Clone(m.Devices)}
	for i := range d.begun {
		d.begun[i] = pad.Never
	}
	for _, s := range m.Sensors {
		i := slices.IndexFunc(d.groups, func(g group) bool { return g.device == s.Device && g.report == s.Report })
		if i < 0 {
			i = len(d.groups)
			d.groups = append(d.groups, group{device: s.Device, report: s.Report})
		}
		g := &d.groups[i]
		g.sensors = append(g.sensors, s)
		g.length = max(g.length, s.Offset+s.Format.width())
	}
	for i := range d.groups {
		slices.SortFunc(d.groups[i].sensors, func(a, b Sensor) int { return int(a.Panel) - int(b.Panel) })
	}
	return d, nil
}

// Begin says that the device was opened at t, on the clock of Decode. It is
// called before the first report, and after a gap: the states of the device's
// panels are unknown from then on. Where Begin is never called, the first
// report is taken as the state at the start, however late it comes.
func (d *Decoder) Begin(t pad.Time, device int) {
	if device < 0 || device >= len(d.devices) {
		return
	}
	d.begun[device] = t
	for i := range d.groups {
		if g := &d.groups[i]; int(g.device) == device {
			g.known = false
			g.down = 0
		}
	}
}

// Decode appends the edges of one report, which was read at t, to dst. Only
// changes give edges. All edges of a report have the same T, which is t less
// the device's delay; the ups come first, then the downs, each in panel order,
// so that no two panels seem to overlap that the report does not show down
// together. A panel that is down in the first report gives no edge: Held names
// it, and its later release is an edge.
//
// A report that is too short, or one that holds no sensor, is counted and
// otherwise ignored. Decode does not keep report and does not allocate where
// dst has room for an edge a panel.
func (d *Decoder) Decode(dst []pad.Edge, t pad.Time, device int, report []byte) []pad.Edge {
	d.counts.Reports++
	if len(report) == 0 {
		d.counts.Short++
		return dst
	}
	var g *group
	for i := range d.groups {
		if k := &d.groups[i]; int(k.device) == device && (k.report == 0 || k.report == report[0]) {
			g = k
			break
		}
	}
	if g == nil {
		d.counts.Other++
		return dst
	}
	if len(report) < g.length {
		d.counts.Short++
		return dst
	}
	now := pad.PanelSet(0)
	for i := range g.sensors {
		s := &g.sensors[i]
		if s.down(report, g.down.Has(s.Panel)) {
			now = now.With(s.Panel)
		}
	}
	was := g.down
	g.down = now
	if !g.known {
		g.known = true
		if begun := d.begun[device]; begun == pad.Never || t-begun <= FirstReport {
			d.held |= now
			return dst
		}
	}
	if now == was {
		return dst
	}
	t -= d.devices[device].Delay
	for p := range (was &^ now).All() {
		dst = append(dst, pad.Edge{T: t, Panel: p, Kind: pad.Up})
		d.counts.Edges++
	}
	for p := range (now &^ was).All() {
		dst = append(dst, pad.Edge{T: t, Panel: p, Kind: pad.Down})
		d.counts.Edges++
	}
	return dst
}

// Held gives the panels that were down in a first report since Held was last
// called: at the start, or after a gap. They gave no edge.
func (d *Decoder) Held() pad.PanelSet {
	h := d.held
	d.held = 0
	return h
}

// Down gives the panels that are down after the last report.
func (d *Decoder) Down() pad.PanelSet {
	var s pad.PanelSet
	for i := range d.groups {
		s |= d.groups[i].down
	}
	return s
}

// Counts gives what came so far.
func (d *Decoder) Counts() Counts { return d.counts }
