package input_test

import (
	"math/bits"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/input"
)

// tenButtons is the report descriptor of a game pad with ten buttons. Its item
// codes are those of HID 1.11, section 6.2.2, and of the HID Usage Tables; the
// Linux kernel's documentation (hidintro) explains the same items.
var tenButtons = []byte{
	0x05, 0x01, 0x09, 0x05, 0xa1, 0x01, 0x05, 0x09, 0x19, 0x01, 0x29, 0x0a, 0x15, 0x00, 0x25,
	0x01, 0x75, 0x01, 0x95, 0x0a, 0x81, 0x02, 0x75, 0x06, 0x95, 0x01, 0x81, 0x03, 0xc0,
}

func oneDevice() []input.Device {
	return []input.Device{{Identity: input.Identity{Vendor: 0x1209, Product: 1}}}
}

func tenButtonMap(t testing.TB) *input.Map {
	t.Helper()
	d, err := input.ParseDescriptor(tenButtons)
	if err != nil {
		t.Fatal(err)
	}
	m, err := input.Propose(pad.Double, oneDevice(), []*input.Descriptor{d})
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func decoder(t testing.TB, m *input.Map) *input.Decoder {
	t.Helper()
	d, err := input.NewDecoder(m)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// The reports of the ten-button pad: button n is bit n-1, little-endian (HID
// 1.11, section 8.4: bits from the lowest, bytes from the first).
func TestTenButtonReports(t *testing.T) {
	for _, c := range []struct {
		report  [2]byte
		buttons []int // from 1
	}{
		{[2]byte{0x00, 0x00}, nil},
		{[2]byte{0x01, 0x00}, []int{1}},
		{[2]byte{0x80, 0x00}, []int{8}},
		{[2]byte{0x00, 0x01}, []int{9}},
		{[2]byte{0x00, 0x02}, []int{10}},
		{[2]byte{0x01, 0x01}, []int{1, 9}},
		{[2]byte{0x10, 0x02}, []int{5, 10}},
		{[2]byte{0xff, 0x03}, []int{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}},
	} {
		d := decoder(t, tenButtonMap(t))
		d.Decode(nil, 0, 0, []byte{0, 0})
		var got, want []pad.Edge
		got = d.Decode(got, 7000, 0, c.report[:])
		for _, b := range c.buttons {
			want = append(want, pad.Edge{T: 7000, Panel: pad.Panel(b - 1), Kind: pad.Down})
		}
		if !slices.Equal(got, want) {
			t.Errorf("report % x: edges %v, want %v", c.report, got, want)
		}
	}
}

func TestUpsBeforeDowns(t *testing.T) {
	d := decoder(t, tenButtonMap(t))
	e := d.Decode(nil, 0, 0, []byte{0, 0})
	e = d.Decode(e, 1000, 0, []byte{0x0a, 0})
	e = d.Decode(e, 2000, 0, []byte{0x05, 0})
	e = d.Decode(e, 3000, 0, []byte{0x05, 0})
	want := []pad.Edge{
		{T: 1000, Panel: 1, Kind: pad.Down}, {T: 1000, Panel: 3, Kind: pad.Down},
		{T: 2000, Panel: 1, Kind: pad.Up}, {T: 2000, Panel: 3, Kind: pad.Up},
		{T: 2000, Panel: 0, Kind: pad.Down}, {T: 2000, Panel: 2, Kind: pad.Down},
	}
	if !slices.Equal(e, want) {
		t.Errorf("edges %v, want %v", e, want)
	}
	if got := d.Counts(); got.Reports != 4 || got.Edges != 6 {
		t.Errorf("counts %+v", got)
	}
}

func TestDownAtTheStart(t *testing.T) {
	sw := pad.SetOf(1)
	t.Run("reports all the time", func(t *testing.T) {
		d := decoder(t, tenButtonMap(t))
		d.Begin(5*pad.Second, 0)
		if e := d.Decode(nil, 5*pad.Second+1000, 0, []byte{2, 0}); len(e) != 0 {
			t.Errorf("the first report gave edges: %v", e)
		}
		if h := d.Held(); h != sw {
			t.Errorf("held %b, want %b", h, sw)
		}
		if h := d.Held(); h != 0 {
			t.Errorf("held again %b", h)
		}
		e := d.Decode(nil, 6*pad.Second, 0, []byte{0, 0})
		if want := []pad.Edge{{T: 6 * pad.Second, Panel: 1, Kind: pad.Up}}; !slices.Equal(e, want) {
			t.Errorf("its release gave %v, want %v", e, want)
		}
	})
	t.Run("reports changes only", func(t *testing.T) {
		d := decoder(t, tenButtonMap(t))
		d.Begin(0, 0)
		e := d.Decode(nil, 3*pad.Second, 0, []byte{2, 0})
		if want := []pad.Edge{{T: 3 * pad.Second, Panel: 1, Kind: pad.Down}}; !slices.Equal(e, want) {
			t.Errorf("the first press gave %v, want %v", e, want)
		}
		if h := d.Held(); h != 0 {
			t.Errorf("held %b", h)
		}
	})
	t.Run("after a gap", func(t *testing.T) {
		d := decoder(t, tenButtonMap(t))
		d.Decode(nil, 0, 0, []byte{0, 0})
		d.Begin(pad.Second, 0)
		if e := d.Decode(nil, pad.Second+1000, 0, []byte{2, 0}); len(e) != 0 || d.Held() != sw {
			t.Errorf("after a gap: edges %v", e)
		}
	})
}

func TestOddReports(t *testing.T) {
	m := &input.Map{Layout: pad.Single, Devices: oneDevice(), Sensors: []input.Sensor{
		{Panel: 0, Report: 2, Offset: 1, Mask: 1},
		{Panel: 1, Report: 2, Offset: 3, Format: input.U16, Press: 900, Release: 600},
	}}
	d := decoder(t, m)
	for _, r := range [][]byte{nil, {}, {2}, {2, 1}, {2, 1, 0, 0}, {1, 1, 0, 0, 0}, {0}, make([]byte, 2000)} {
		if e := d.Decode(nil, 0, 0, r); len(e) != 0 {
			t.Errorf("% x gave edges %v", r[:min(len(r), 8)], e)
		}
	}
	for _, device := range []int{-1, 1, 7} {
		if e := d.Decode(nil, 0, device, []byte{2, 1, 0, 255, 255}); len(e) != 0 {
			t.Errorf("device %d gave edges %v", device, e)
		}
	}
	if got, want := d.Counts(), (input.Counts{Reports: 11, Other: 6, Short: 5}); got != want {
		t.Errorf("counts %+v, want %+v", got, want)
	}
}

func TestHysteresis(t *testing.T) {
	for _, c := range []struct {
		name   string
		sensor input.Sensor
		values []int32
		want   []bool // down after each
	}{
		{"rising byte", input.Sensor{Format: input.U8, Press: 100, Release: 60}, []int32{0, 99, 100, 61, 60, 99, 255, 0}, []bool{false, false, true, true, false, false, true, false}},
		{"falling byte", input.Sensor{Format: input.U8, Press: 60, Release: 100}, []int32{255, 61, 60, 99, 100, 0}, []bool{false, false, true, true, false, true}},
		{"signed byte", input.Sensor{Format: input.S8, Press: -50, Release: -20}, []int32{1, -1, -50, -21, -20}, []bool{false, false, true, true, false}},
		{"word", input.Sensor{Format: input.U16, Press: 3000, Release: 1000}, []int32{255, 256, 3000, 1001, 65535, 1000}, []bool{false, false, true, true, true, false}},
		{"signed word", input.Sensor{Format: input.S16, Press: 300, Release: -300}, []int32{-1, 299, 300, -299, -300}, []bool{false, false, true, true, false}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.sensor.Offset = 1
			d := decoder(t, &input.Map{Layout: pad.Single, Devices: oneDevice(), Sensors: []input.Sensor{c.sensor}})
			for i, v := range c.values {
				d.Decode(nil, pad.Time(i), 0, []byte{0x55, byte(v), byte(v >> 8), 0x55})
				if got := d.Down().Has(0); got != c.want[i] {
					t.Errorf("value %d of %v: down %v", i, c.values, got)
				}
			}
		})
	}
}

func TestTwoDevicesWithDelays(t *testing.T) {
	m := &input.Map{Layout: pad.Double,
		Devices: []input.Device{{Delay: 2000}, {Delay: 7000}},
		Sensors: []input.Sensor{{Panel: 0, Offset: 0, Mask: 1}, {Panel: 5, Device: 1, Offset: 0, Mask: 1}},
	}
	d := decoder(t, m)
	d.Decode(nil, 0, 0, []byte{0})
	d.Decode(nil, 0, 1, []byte{0})
	var o input.Order
	var got []pad.Edge
	step := func(now pad.Time, device int, b byte) {
		for _, e := range d.Decode(nil, now, device, []byte{b}) {
			o.Put(e)
		}
		for {
			e, ok := o.Next(now - m.Hold())
			if !ok {
				break
			}
			got = append(got, e)
		}
	}
	step(100_000, 0, 1) // 98,000
	step(104_000, 1, 1) // 97,000
	step(120_000, 1, 0) // 113,000
	step(120_000, 0, 0) // 118,000
	step(140_000, 0, 0)
	want := []pad.Edge{
		{T: 97_000, Panel: 5, Kind: pad.Down}, {T: 98_000, Panel: 0, Kind: pad.Down},
		{T: 113_000, Panel: 5, Kind: pad.Up}, {T: 118_000, Panel: 0, Kind: pad.Up},
	}
	if !slices.Equal(got, want) {
		t.Errorf("edges %v, want %v", got, want)
	}
	if o.Late() != 0 {
		t.Errorf("%d edges were late", o.Late())
	}
}

// Whatever the sensors and the reports, the edges are those that a plain
// comparison of bits gives, and panels alternate between down and up.
func TestDecodeAgainstPlainComparison(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		size := rapid.IntRange(1, 6).Draw(t, "size")
		m := &input.Map{Layout: pad.Double, Devices: oneDevice()}
		for _, p := range rapid.SliceOfNDistinct(rapid.IntRange(0, 9), 1, 10, rapid.ID).Draw(t, "panels") {
			m.Sensors = append(m.Sensors, input.Sensor{Panel: pad.Panel(p),
				Offset: rapid.IntRange(0, size-1).Draw(t, "offset"), Mask: rapid.Byte().Filter(func(b byte) bool { return b != 0 }).Draw(t, "mask"),
				ActiveLow: rapid.Bool().Draw(t, "low")})
		}
		d, err := input.NewDecoder(m)
		if err != nil {
			t.Fatal(err)
		}
		reports := rapid.SliceOfN(rapid.SliceOfN(rapid.Byte(), size, size+2), 1, 20).Draw(t, "reports")
		state := func(r []byte) (set pad.PanelSet) {
			for _, s := range m.Sensors {
				down := false
				for bit := range 8 {
					if s.Mask>>bit&1 == 1 && (r[s.Offset]>>bit&1 == 1) != s.ActiveLow {
						down = true
					}
				}
				if down {
					set = set.With(s.Panel)
				}
			}
			return set
		}
		was := state(reports[0])
		for i, r := range reports {
			now := state(r)
			edges := d.Decode(nil, pad.Time(i), 0, r)
			if len(edges) != bits.OnesCount32(uint32(now^was)) {
				t.Fatalf("report %d: %d edges for %b to %b", i, len(edges), was, now)
			}
			for k, e := range edges {
				if (e.Kind == pad.Down) != now.Has(e.Panel) || now.Has(e.Panel) == was.Has(e.Panel) || e.T != pad.Time(i) {
					t.Fatalf("report %d: edge %v for %b to %b", i, e, was, now)
				}
				if k > 0 && (edges[k-1].Kind > e.Kind || edges[k-1].Kind == e.Kind && edges[k-1].Panel >= e.Panel) {
					t.Fatalf("report %d: edges out of order: %v", i, edges)
				}
			}
			if d.Down() != now {
				t.Fatalf("report %d: down %b, want %b", i, d.Down(), now)
			}
			was = now
		}
	})
}

// Order gives what a stable sort by time gives, as long as edges come within
// the hold.
func TestOrderAgainstSort(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const hold = 50
		var o input.Order
		var in, out []pad.Edge
		now := pad.Time(0)
		take := func(until pad.Time) {
			for {
				e, ok := o.Next(until)
				if !ok {
					return
				}
				out = append(out, e)
			}
		}
		for i := range rapid.IntRange(0, 40).Draw(t, "n") {
			now += pad.Time(rapid.IntRange(0, 60).Draw(t, "step"))
			e := pad.Edge{T: now - pad.Time(rapid.IntRange(0, hold-1).Draw(t, "delay")), Lost: uint32(i)}
			in = append(in, e)
			o.Put(e)
			take(now - hold)
		}
		take(pad.Never)
		slices.SortStableFunc(in, func(a, b pad.Edge) int { return int(a.T - b.T) })
		if !slices.Equal(in, out) || o.Late() != 0 {
			t.Fatalf("got %v, want %v", out, in)
		}
	})
}

func TestOrderKeepsTimeFromGoingBack(t *testing.T) {
	var o input.Order
	o.Put(pad.Edge{T: 100})
	o.Next(100)
	o.Put(pad.Edge{T: 90, Panel: 3})
	if e, ok := o.Next(pad.Never); !ok || e.T != 100 || e.Panel != 3 || o.Late() != 1 {
		t.Errorf("got %v, %v, %d late", e, ok, o.Late())
	}
}

func TestMapCheck(t *testing.T) {
	good := func() *input.Map {
		return &input.Map{Layout: pad.Single, Devices: oneDevice(), Sensors: []input.Sensor{
			{Panel: 0, Offset: 0, Mask: 1}, {Panel: 1, Offset: 1, Format: input.U8, Press: 200, Release: 100}}}
	}
	if err := good().Check(); err != nil {
		t.Fatal(err)
	}
	for field, spoil := range map[string]func(m *input.Map){
		"":          func(m *input.Map) { m.Sensors = nil },
		"panel":     func(m *input.Map) { m.Sensors[1].Panel = 0 },
		"device":    func(m *input.Map) { m.Sensors[0].Device = 1 },
		"offset":    func(m *input.Map) { m.Sensors[0].Offset = 1024 },
		"mask":      func(m *input.Map) { m.Sensors[0].Mask = 0 },
		"press":     func(m *input.Map) { m.Sensors[1].Press = 256 },
		"release":   func(m *input.Map) { m.Sensors[1].Release = 200 },
		"report":    func(m *input.Map) { m.Sensors[1].Report = 3 },
		"format":    func(m *input.Map) { m.Sensors[1].Format = 9 },
		"delay":     func(m *input.Map) { m.Devices[0].Delay = -1 },
		"interface": func(m *input.Map) { m.Devices[0].Interface = -1 },
	} {
		m := good()
		spoil(m)
		f, ok := m.Check().(*input.Fault)
		if !ok || f.Field != field || f.Error() == "" {
			t.Errorf("spoilt %q: got %v", field, f)
		}
		if _, err := input.NewDecoder(m); err == nil {
			t.Errorf("spoilt %q: a decoder was made", field)
		}
	}
}

// allReports are reports of the ten-button pad, busier than any player: a
// change in each.
var allReports = [][]byte{{0, 0}, {1, 0}, {3, 0}, {2, 2}, {0xff, 3}, {0, 1}}

func TestDecodeDoesNotAllocate(t *testing.T) {
	d := decoder(t, tenButtonMap(t))
	edges := make([]pad.Edge, 0, 64)
	i := 0
	if n := testing.AllocsPerRun(1000, func() {
		edges = d.Decode(edges[:0], pad.Time(i), 0, allReports[i%len(allReports)])
		i++
	}); n != 0 {
		t.Errorf("Decode allocates %v times a report", n)
	}
}

// BenchmarkDecode must stay under 10 µs a report, a hundredth of the time
// between two reports at 1000 Hz, and without allocation.
func BenchmarkDecode(b *testing.B) {
	d := decoder(b, tenButtonMap(b))
	edges := make([]pad.Edge, 0, 64)
	b.ReportAllocs()
	i := 0
	for b.Loop() {
		edges = d.Decode(edges[:0], pad.Time(i), 0, allReports[i%len(allReports)])
		i++
	}
}
