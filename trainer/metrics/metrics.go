// Package metrics counts what happens in runs for Prometheus, on a registry of
// its own. Labels take panels, bands and other short lists only, never what a
// player typed, so the number of series is bounded by the layout.
package metrics

import (
	"math"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
)

// ChatterWithin is how soon after its release a press of the same panel is
// taken for chatter: no foot is as fast (from memory, mechanical bounce is 10 to
// 20 ms; design value).
const ChatterWithin = 30 * time.Millisecond

// Bands are the labels of what became of a note, in the order of Notes.
var Bands = [4]string{"inner", "middle", "outer", "absent"}

// Metrics are the collectors of a program. The methods that count may be called
// from any goroutine, do not wait and, but for the first of a panel, do not allocate.
type Metrics struct {
	Registry *prometheus.Registry

	presses, chatter *prometheus.CounterVec
	techniques       *prometheus.CounterVec
	notes            [len(Bands)]prometheus.Counter
	stray            prometheus.Counter
	gaps, lost       prometheus.Counter
	reps, runs       prometheus.Counter
	offsets          prometheus.Histogram
	latency          prometheus.Histogram
	frames           prometheus.Histogram
	sources          prometheus.Gauge
	failed           prometheus.Counter
	tempo, begun     prometheus.Gauge
	info             *prometheus.GaugeVec

	mu         sync.Mutex // guards steadiness
	steadiness func() float64
}

// nativeFactor is by how much a bucket of a native histogram is wider than the
// one before: figures are exact to 5 %.
const nativeFactor = 1.1

// New makes the collectors.
func New() *Metrics {
	m := &Metrics{Registry: prometheus.NewRegistry()}
	counter := func(name, help string) prometheus.Counter {
		c := prometheus.NewCounter(prometheus.CounterOpts{Namespace: "heeltoe", Name: name, Help: help})
		m.Registry.MustRegister(c)
		return c
	}
	gauge := func(name, help string) prometheus.Gauge {
		g := prometheus.NewGauge(prometheus.GaugeOpts{Namespace: "heeltoe", Name: name, Help: help})
		m.Registry.MustRegister(g)
		return g
	}
	by := func(name, help, label string) *prometheus.CounterVec {
		c := prometheus.NewCounterVec(prometheus.CounterOpts{Namespace: "heeltoe", Name: name, Help: help}, []string{label})
		m.Registry.MustRegister(c)
		return c
	}
	// A native histogram where the server asks for it, these buckets where not.
	histogram := func(name, help string, buckets []float64) prometheus.Histogram {
		h := prometheus.NewHistogram(prometheus.HistogramOpts{Namespace: "heeltoe", Name: name, Help: help, Buckets: buckets,
			NativeHistogramBucketFactor: nativeFactor, NativeHistogramMaxBucketNumber: 160, NativeHistogramMinResetDuration: time.Hour})
		m.Registry.MustRegister(h)
		return h
	}
	m.presses = by("presses_total", "Presses of a panel.", "panel")
	m.chatter = by("chatter_presses_total", "Presses of a panel within 30 milliseconds of its release: chatter of the pad, not feet.", "panel")
	m.techniques = by("technique_reps_total", "Reps by the technique that they were read as while the run went on.", "technique")
	notes := by("notes_total", "Notes of reps that are over, by how far off their press was; absent: without one.", "band")
	for i, b := range Bands {
		m.notes[i] = notes.WithLabelValues(b)
	}
	m.stray = counter("stray_presses_total", "Presses in reps that are over that belong to no note.")
	m.gaps = counter("gaps_total", "Times at which edges may be missing.")
	m.lost = counter("lost_edges_total", "Edges known to be missing.")
	m.reps = counter("reps_total", "Reps that are over.")
	m.runs = counter("runs_total", "Runs begun, each part of one that was paused for itself.")
	m.offsets = histogram("offset_seconds", "Press minus due moment of the notes that were hit; below zero is early.",
		[]float64{-0.105, -0.07, -0.04, -0.02, 0, 0.02, 0.05, 0.09, 0.135})
	m.latency = histogram("read_to_verdict_seconds", "From the moment a press was read to the moment it was judged.",
		[]float64{.0001, .0002, .0005, .001, .002, .005, .01, .02, .05, .1})
	m.frames = histogram("frame_seconds", "Time to draw a picture on the screen; none without a window.",
		[]float64{.001, .002, .004, .008, .016, .033, .066, .133})
	m.sources = gauge("source_up", "1 while every source of presses is there, 0 once one broke off.")
	m.failed = counter("source_failures_total", "Sources of presses that broke off, a pad unplugged above all.")
	m.tempo = gauge("tempo_beats_per_minute", "Tempo of the run.")
	m.begun = gauge("run_start_timestamp_seconds", "When the run began, in seconds since 1970.")
	m.info = prometheus.NewGaugeVec(prometheus.GaugeOpts{Namespace: "heeltoe", Name: "run_info",
		Help: "1, with what is known of the run: the layout, the hands on the bar and the kind of source."}, []string{"layout", "bar", "source"})
	steadiness := prometheus.NewGaugeFunc(prometheus.GaugeOpts{Namespace: "heeltoe", Name: "steadiness_ratio",
		Help: "Share of the notes hit in reps that are over that would be inner after one shift of them all, 0 to 1; NaN of none."}, m.readSteadiness)
	m.Registry.MustRegister(m.info, steadiness, collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

// Run is what is known of a run as it begins. All but BPM become labels, so
// they are words of short lists.
type Run struct {
	Layout string
	Bar    string
	Source string // pad, keys or script
	Panels []string
	BPM    float64
	Began  time.Time
}

// Begin says that a run begins. steadiness is asked at every scrape, from
// another goroutine, until the next run begins.
func (m *Metrics) Begin(r Run, steadiness func() float64) {
	m.mu.Lock()
	m.steadiness = steadiness
	m.mu.Unlock()
	m.runs.Inc()
	m.info.Reset()
	m.info.WithLabelValues(r.Layout, r.Bar, r.Source).Set(1)
	m.tempo.Set(r.BPM)
	m.begun.Set(float64(r.Began.UnixMilli()) / 1000)
	m.sources.Set(1)
	// A series is there from the start, so that its first rise is seen.
	for _, p := range r.Panels {
		m.presses.WithLabelValues(p)
		m.chatter.WithLabelValues(p)
	}
}

func (m *Metrics) readSteadiness() float64 {
	m.mu.Lock()
	f := m.steadiness
	m.mu.Unlock()
	if f == nil {
		return math.NaN()
	}
	return f()
}

// Press counts a press of a panel: judged so long after it was read, and so
// long after that panel went up, below 0 where it has not been down before.
func (m *Metrics) Press(panel string, judgedAfter, sinceUp time.Duration) {
	m.presses.WithLabelValues(panel).Inc()
	m.latency.Observe(judgedAfter.Seconds())
	if sinceUp >= 0 && sinceUp < ChatterWithin {
		m.chatter.WithLabelValues(panel).Inc()
	}
}

// Rep counts a rep that is over: its notes by band, in the order of Bands, its
// stray presses and its offsets.
func (m *Metrics) Rep(notes [len(Bands)]int, stray int, offsets []time.Duration) {
	m.reps.Inc()
	for i, n := range notes {
		m.notes[i].Add(float64(n))
	}
	m.stray.Add(float64(stray))
	for _, o := range offsets {
		m.offsets.Observe(o.Seconds())
	}
}

// Technique counts a rep that was read as a technique, one of the few that there are.
func (m *Metrics) Technique(technique string) { m.techniques.WithLabelValues(technique).Inc() }

// Gap counts a gap in the edges, with lost known to be missing.
func (m *Metrics) Gap(lost uint32) {
	m.gaps.Inc()
	m.lost.Add(float64(lost))
}

// SourceFailed says that a source broke off.
func (m *Metrics) SourceFailed() {
	m.failed.Inc()
	m.sources.Set(0)
}

// Frame counts a picture that took so long to draw.
func (m *Metrics) Frame(took time.Duration) { m.frames.Observe(took.Seconds()) }
