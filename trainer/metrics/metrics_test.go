package metrics_test

import (
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"

	"heeltoe/trainer/metrics"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func serve(t testing.TB, m *metrics.Metrics) *metrics.Server {
	t.Helper()
	s, err := m.Serve("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

func get(t testing.TB, s *metrics.Server) string {
	t.Helper()
	c := http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 10 * time.Second}
	r, err := c.Get(s.URL())
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil || r.StatusCode != http.StatusOK {
		t.Fatalf("%s, %v", r.Status, err)
	}
	return string(text)
}

// played is metrics of which every one has a figure.
func played() *metrics.Metrics {
	m := metrics.New()
	m.Begin(metrics.Run{Layout: "single", Bar: "none", Source: "pad", Panels: []string{"nw", "sw", "c", "ne", "se"}, BPM: 130,
		Began: time.UnixMilli(1_700_000_000_250)}, func() float64 { return 0.875 })
	m.Press("ne", 300*time.Microsecond, -1)
	m.Press("ne", 2*time.Millisecond, 10*time.Millisecond) // chatter
	m.Press("ne", 2*time.Millisecond, metrics.ChatterWithin)
	m.Rep([4]int{3, 2, 1, 1}, 2, []time.Duration{-50 * time.Millisecond, 10 * time.Millisecond, 0})
	m.Technique("roll")
	m.Gap(7)
	m.Frame(4 * time.Millisecond)
	m.SourceFailed()
	return m
}

// The text is what Debian's promtool takes for well made, and says what was counted.
func TestScrape(t *testing.T) {
	s := serve(t, played())
	text := get(t, s)
	for _, want := range []string{
		`heeltoe_presses_total{panel="ne"} 3`, `heeltoe_presses_total{panel="sw"} 0`, `heeltoe_chatter_presses_total{panel="ne"} 1`,
		`heeltoe_notes_total{band="inner"} 3`, `heeltoe_notes_total{band="absent"} 1`, `heeltoe_stray_presses_total 2`,
		`heeltoe_offset_seconds_count 3`, `heeltoe_offset_seconds_sum -0.04`, `heeltoe_offset_seconds_bucket{le="0"} 2`,
		`heeltoe_read_to_verdict_seconds_bucket{le="0.0005"} 1`, `heeltoe_gaps_total 1`, `heeltoe_lost_edges_total 7`, `heeltoe_source_up 0`,
		`heeltoe_source_failures_total 1`, `heeltoe_steadiness_ratio 0.875`, `heeltoe_tempo_beats_per_minute 130`, `heeltoe_frame_seconds_count 1`,
		`heeltoe_run_info{bar="none",layout="single",source="pad"} 1`, `heeltoe_run_start_timestamp_seconds 1.70000000025e+09`, `heeltoe_reps_total 1`,
		`heeltoe_technique_reps_total{technique="roll"} 1`,
	} {
		if !strings.Contains(text, want+"\n") {
			t.Errorf("%s is not in\n%s", want, text)
		}
	}
	promtool, err := exec.LookPath("promtool")
	if err != nil {
		if os.Getenv("CI") != "" || os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("promtool is missing; make test installs it with prometheus")
		}
		t.Skip("promtool: not run: it is missing; make test installs it with prometheus")
	}
	check := exec.Command(promtool, "check", "metrics")
	check.Stdin = strings.NewReader(text)
	if out, err := check.CombinedOutput(); err != nil || len(out) > 0 {
		t.Errorf("promtool: %v: %s", err, out)
	}
	broken := exec.Command(promtool, "check", "metrics")
	broken.Stdin = strings.NewReader("# HELP presses_ms x\n# TYPE presses_ms counter\npresses_ms 1\n")
	if out, _ := broken.CombinedOutput(); len(out) == 0 {
		t.Error("promtool finds nothing wrong with what is wrong")
	}
}

// Whatever is played, there are only so many series: none by drill or player.
func TestSeriesAreBounded(t *testing.T) {
	m := metrics.New()
	s := serve(t, m)
	series := func() int {
		n := 0
		for line := range strings.Lines(get(t, s)) {
			if strings.HasPrefix(line, "heeltoe_") {
				n++
			}
		}
		return n
	}
	layouts := map[string][]string{"single": {"nw", "sw", "c", "ne", "se"}, "double": {"1nw", "1sw", "1c", "1ne", "1se", "2nw", "2sw", "2c", "2ne", "2se"}}
	for i := range 200 {
		for name, panels := range layouts {
			m.Begin(metrics.Run{Layout: name, Bar: []string{"", "none", "one", "both"}[i%4], Source: []string{"pad", "keys", "script"}[i%3], Panels: panels, BPM: float64(i)},
				func() float64 { return math.NaN() })
			for k, p := range panels {
				m.Press(p, time.Duration(i*k)*time.Millisecond, time.Duration(i)*time.Millisecond)
			}
			m.Rep([4]int{i, 1, 1, 1}, i, []time.Duration{time.Duration(i-100) * time.Millisecond})
		}
	}
	if n := series(); n > 120 {
		t.Errorf("%d series", n)
	}
	if text := get(t, s); strings.Count(text, "heeltoe_run_info{") != 1 || !strings.Contains(text, "heeltoe_runs_total 400\n") {
		t.Error("runs that are over leave something behind")
	}
}

// The server answers what it is for and nothing else, and nobody can hold it.
func TestServerLimits(t *testing.T) {
	s := serve(t, metrics.New())
	base := strings.TrimSuffix(s.URL(), metrics.Path)
	c := http.Client{Transport: &http.Transport{DisableKeepAlives: true}, Timeout: 10 * time.Second}
	status := func(method, url string, header string) int {
		r, err := http.NewRequest(method, url, nil)
		if err != nil {
			t.Fatal(err)
		}
		if header != "" {
			r.Header.Set("X-Long", header)
		}
		a, err := c.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		defer a.Body.Close()
		return a.StatusCode
	}
	for _, x := range []struct {
		method, url, header string
		want                int
	}{
		{"GET", s.URL(), "", 200}, {"POST", s.URL(), "", 405}, {"GET", base + "/", "", 404}, {"GET", base + "/debug/pprof/", "", 404},
		{"GET", s.URL(), strings.Repeat("x", 64<<10), 431},
	} {
		if got := status(x.method, x.url, x.header); got != x.want {
			t.Errorf("%s %s: %d, want %d", x.method, x.url, got, x.want)
		}
	}
	// One who asks by the letter is cut off.
	conn, err := net.Dial("tcp", strings.TrimPrefix(base, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	fmt.Fprint(conn, "GET /metrics HTTP/1.1\r\n")
	began := time.Now()
	conn.SetReadDeadline(began.Add(20 * time.Second))
	_, err = io.Copy(io.Discard, conn)
	if d := time.Since(began); err != nil || d > 10*time.Second {
		t.Errorf("a slow asker holds the server for %v: %v", d, err)
	}
	if s.Open() {
		t.Error("a server on 127.0.0.1 is said to be open to others")
	}
	o, err := metrics.New().Serve("0.0.0.0:0")
	if err != nil {
		t.Fatal(err)
	}
	defer o.Close()
	if !o.Open() {
		t.Error("a server on every address is said to be this machine's alone")
	}
}

// Counting a press takes next to no time of the loop that judges: at most 2 µs and
// no memory.
func BenchmarkPress(b *testing.B) {
	m := played()
	b.ReportAllocs()
	for b.Loop() {
		m.Press("ne", 300*time.Microsecond, 200*time.Millisecond)
	}
}

func TestPressDoesNotAllocate(t *testing.T) {
	m := played()
	if n := testing.AllocsPerRun(200, func() { m.Press("ne", 300*time.Microsecond, 200*time.Millisecond) }); n != 0 {
		t.Errorf("%v allocations a press", n)
	}
}

// Who asks regularly gets the last figures; who does not is not waited for.
func TestLastWords(t *testing.T) {
	m := metrics.New()
	s := serve(t, m)
	get(t, s)
	began := time.Now()
	if err := s.Close(); err != nil || time.Since(began) > time.Second {
		t.Errorf("asked once, the end took %v: %v", time.Since(began), err)
	}
	s = serve(t, m)
	get(t, s)
	time.Sleep(300 * time.Millisecond)
	get(t, s)
	m.Gap(1)
	closed := make(chan error)
	go func() { closed <- s.Close() }()
	time.Sleep(200 * time.Millisecond)
	if text := get(t, s); !strings.Contains(text, "heeltoe_gaps_total 1\n") {
		t.Error("the last figures are not given")
	}
	if err := <-closed; err != nil {
		t.Error(err)
	}
}
