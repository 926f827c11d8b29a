package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input/record"
)

// prometheus gives a tool of Debian's package prometheus, or ends the test.
func prometheus(t testing.TB, tool string) string {
	t.Helper()
	path, err := exec.LookPath(tool)
	if err != nil {
		if os.Getenv("CI") != "" || os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("prometheus is missing; make test installs it")
		}
		t.Skip("not run: prometheus is missing; make test installs it")
	}
	return path
}

// The alert rules are what promtool takes, and do in its simulations what they say.
func TestAlertRules(t *testing.T) {
	tool := prometheus(t, "promtool")
	for _, args := range [][]string{{"check", "rules", "alerts.yml"}, {"test", "rules", "alerts_test.yml"}, {"check", "config", "prometheus.yml"}} {
		cmd := exec.Command(tool, args...)
		cmd.Dir = filepath.Join("..", "..", "trainer", "metrics", "monitoring")
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Errorf("promtool %v: %v\n%s", args, err, out)
		}
	}
}

// pressesOf counts the presses of a log by panel.
func pressesOf(t *testing.T, log string) map[string]int {
	l, err := record.ReadLog(log)
	if err != nil {
		t.Fatal(err)
	}
	n := map[string]int{}
	for _, e := range l.Edges {
		if e.Kind == pad.Down {
			n[l.Layout.ID(e.Panel)]++
		}
	}
	return n
}

// Twenty pads at once on this machine, each a program of its own with a live
// run: Debian's Prometheus gathers from all, and its answers are the presses in the
// logs, panel by panel. Offsets come as a native histogram too, and the console page
// shows the pads.
func TestLongPrometheusGathersFromTwentyPads(t *testing.T) {
	if os.Getenv("HEELTOE_LONG") == "" {
		t.Skip("long: make test runs it by itself, without the race detector")
	}
	server := prometheus(t, "prometheus")
	home(t)
	dir := t.TempDir()
	const pads = 20
	targets := make([]string, pads)
	for k := range targets {
		targets[k] = strconv.Quote(freeAddr(t))
	}
	config := filepath.Join(dir, "prometheus.yml")
	rules, err := filepath.Abs(filepath.Join("..", "..", "trainer", "metrics", "monitoring"))
	if err != nil {
		t.Fatal(err)
	}
	text := fmt.Sprintf("global: {scrape_interval: 500ms, evaluation_interval: 1s}\nrule_files: [%q]\nscrape_configs:\n  - job_name: pads\n    static_configs: [{targets: [%s]}]\n",
		filepath.Join(rules, "alerts.yml"), strings.Join(targets, ","))
	if err := os.WriteFile(config, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	addr := freeAddr(t)
	ctx, cancel := context.WithCancel(t.Context())
	cmd := exec.CommandContext(ctx, server, "--config.file", config, "--storage.tsdb.path", filepath.Join(dir, "tsdb"), "--web.listen-address", addr,
		"--enable-feature=native-histograms", "--web.console.templates", rules, "--log.level=warn")
	said, err := os.Create(filepath.Join(dir, "said"))
	if err != nil {
		t.Fatal(err)
	}
	cmd.Stderr = said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() { cancel(); cmd.Wait(); said.Close() }()
	await(t, "http://"+addr+"/-/ready")

	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	over := make(chan error, pads)
	log := func(k int) string { return filepath.Join(dir, fmt.Sprintf("%d.jsonl", k)) }
	for k := range pads {
		target, err := strconv.Unquote(targets[k])
		if err != nil {
			t.Fatal(err)
		}
		targets[k] = target
		play := exec.CommandContext(ctx, self, "live", []string{"corner-hook", "stair-ten"}[k%2], "--bpm", "150", "--reps", "12", "--seed", strconv.Itoa(k+1),
			"--source", "synth", "--text", "--click", "off", "--metrics", target, "--out", log(k))
		play.Env = append(os.Environ(), asProgram+"=1")
		var errs strings.Builder
		play.Stderr = &errs
		if err := play.Start(); err != nil {
			t.Fatal(err)
		}
		go func() {
			err := play.Wait()
			if err != nil {
				err = fmt.Errorf("a run: %w: %s", err, errs.String())
			}
			over <- err
		}()
	}
	// Both of these are there while the runs go on.
	page, native := "", 0
	for ended := 0; ended < pads; {
		select {
		case err := <-over:
			if err != nil {
				t.Error(err)
			}
			ended++
		case <-time.After(500 * time.Millisecond):
			if a, err := http.Get("http://" + addr + "/consoles/pads.html"); err == nil {
				b, _ := io.ReadAll(a.Body)
				a.Body.Close()
				if n := strings.Count(string(b), "150 beats a minute"); n > strings.Count(page, "150 beats a minute") {
					page = string(b)
				}
			}
			native = max(native, len(query(t, addr, `histogram_count(heeltoe_offset_seconds) > 0`)))
		}
	}
	if n := strings.Count(page, "150 beats a minute"); n != pads {
		t.Errorf("the console showed %d pads:\n%.3000s", n, page)
	}
	got := map[string]float64{}
	for _, s := range query(t, addr, `max_over_time(heeltoe_presses_total[5m])`) {
		got[s.Metric["instance"]+" "+s.Metric["panel"]] = s.number(t)
	}
	whole := 0
	for k, target := range targets {
		for panel, n := range pressesOf(t, log(k)) {
			if g := got[target+" "+panel]; g != float64(n) {
				t.Errorf("pad %d, panel %s: Prometheus has %v presses, the log %d", k, panel, g, n)
			}
			whole += n
		}
	}
	sum := query(t, addr, `sum(max_over_time(heeltoe_presses_total[5m]))`)
	if len(sum) != 1 || sum[0].number(t) != float64(whole) || whole < 20*60 {
		t.Errorf("all presses: %v, in the logs %d", sum, whole)
	}
	if native != pads {
		t.Errorf("%d native histograms of offsets", native)
	}
	// Feet are read behind the presses and are left out where there is no time for it, as
	// may be with twenty programs on one machine; a club's pads have one each.
	if n := len(query(t, addr, `sum by (instance) (max_over_time(heeltoe_technique_reps_total[5m])) > 0`)); n == 0 {
		t.Error("of no pad reps are counted by technique")
	}
	if b, err := os.ReadFile(said.Name()); err != nil || strings.Contains(string(b), "level=error") {
		t.Errorf("Prometheus says %v %s", err, b)
	}
}

// await waits until a server answers that it is ready.
func await(t *testing.T, address string) {
	t.Helper()
	for range 600 {
		if a, err := http.Get(address); err == nil {
			a.Body.Close()
			if a.StatusCode == http.StatusOK {
				return
			}
		}
		time.Sleep(100 * time.Millisecond)
	}
	t.Fatalf("%s does not get ready", address)
}

// sample is an answer of Prometheus's query interface.
type sample struct {
	Metric map[string]string
	Value  [2]any
}

func (s *sample) number(t *testing.T) float64 {
	text, _ := s.Value[1].(string)
	f, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func query(t *testing.T, addr, q string) []sample {
	t.Helper()
	a, err := http.Get("http://" + addr + "/api/v1/query?query=" + url.QueryEscape(q))
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	var answer struct {
		Status, Error string
		Data          struct{ Result []sample }
	}
	if err := json.NewDecoder(a.Body).Decode(&answer); err != nil || answer.Status != "success" {
		t.Fatalf("%s: %v, %s", q, err, answer.Error)
	}
	return answer.Data.Result
}

func freeAddr(t *testing.T) string {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// Wrong addresses are told apart; one that all can reach is warned of.
func TestMetricsAddress(t *testing.T) {
	home(t)
	live := func(addr string) (int, string, string) {
		return heeltoe("", "live", "corner-hook", "--source", "synth", "--text", "--bpm", "1000", "--reps", "1", "--click", "off", "--no-log", "--metrics", addr)
	}
	if code, out, err := live("here"); code != exitInput || strings.Contains(out, "count") || !strings.Contains(err, "host:port") {
		t.Errorf("exit %d: %s", code, err)
	}
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer taken.Close()
	if code, _, err := live(taken.Addr().String()); code != exitError || !strings.Contains(err, "in use") {
		t.Errorf("exit %d: %s", code, err)
	}
	if code, out, err := live("0.0.0.0:0"); code != exitDone || !strings.Contains(out, "Metrics are at http://") || !strings.Contains(err, "read by everyone") {
		t.Errorf("exit %d: %s%s", code, out, err)
	}
	if code, _, err := live("127.0.0.1:0"); code != exitDone || strings.Contains(err, "everyone") {
		t.Errorf("exit %d: %s", code, err)
	}
}
