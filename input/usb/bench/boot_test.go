package bench_test

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// Lines by which the guest speaks to this side, on its console.
const (
	markCheck   = "@@CHECK " // pad, check, verdict and figures, tab between them
	markMonitor = "@@QEMU "  // a command for QEMU's monitor; answered by a line
	markExit    = "@@EXIT "
)

// TestPads boots a kernel to which pads are plugged that do not exist, and puts
// each through all that a player does. It prints pads × checks as a table. While
// writing it: HEELTOE_PADS=console shows the guests' consoles as they go, and
// HEELTOE_PADS_RUN is a pattern of the pads to try, of which the rest then fails.
func TestPads(t *testing.T) {
	if os.Getenv("HEELTOE_PADS") == "" {
		t.Skip("boots kernels for some minutes: make test-pads runs it")
	}
	lack := func(format string, args ...any) {
		t.Helper()
		if os.Getenv("HEELTOE_STRICT") != "" || os.Getenv("CI") != "" {
			t.Fatalf(format, args...)
		}
		t.Skipf(format, args...)
	}
	if runtime.GOOS != "linux" || runtime.GOARCH != "amd64" {
		lack("the emulated pads are for Linux on amd64, this is %s on %s", runtime.GOOS, runtime.GOARCH)
	}
	for _, tool := range []string{"qemu-system-x86_64", "apt-get", "dpkg-deb", "xz", "ldd"} {
		if _, err := exec.LookPath(tool); err != nil {
			lack("the emulated pads need %s, which is not here (Debian: qemu-system-x86, xz-utils)", tool)
		}
	}
	k, err := fetchKernel()
	if err != nil {
		lack("there is no kernel to boot: %v", err)
	}
	dir := t.TempDir()
	file, err := makeRoot(dir, k)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 38*time.Minute)
	defer cancel()
	start := time.Now()
	patterns := shares()
	if p := os.Getenv("HEELTOE_PADS_RUN"); p != "" {
		patterns = []string{strings.ReplaceAll(p, " ", "_")}
	}
	guests := make([]*guest, len(patterns))
	var wg sync.WaitGroup
	for i, p := range patterns {
		wg.Go(func() { guests[i] = boot(ctx, k, file, i, p) })
	}
	wg.Wait()
	var worked time.Duration
	checked := results{}
	var failures []string
	for i, g := range guests {
		worked += g.worked
		for row, done := range g.checks {
			checked[row] = done
		}
		if g.err != nil {
			failures = append(failures, fmt.Sprintf("guest %d broke off: %v", i, g.err))
		} else if g.exit != "0" {
			failures = append(failures, fmt.Sprintf("guest %d ended with %q", i, g.exit))
		}
	}
	text, missing, failed := checked.table()
	if len(missing) > 0 {
		failures = append(failures, fmt.Sprintf("%d checks did not run: %s", len(missing), strings.Join(missing, "; ")))
	}
	failures = append(failures, failed...)
	if len(failures) > 0 {
		for i, g := range guests {
			fmt.Printf("console of guest %d:\n%s\n", i, g.console)
		}
	}
	fmt.Print(text)
	fmt.Printf("%d guests side by side booted, checked and powered off in %.0f s; the processors worked %.0f s\n",
		len(guests), time.Since(start).Seconds(), worked.Seconds())
	// Last and short, so that they are seen where only the end of the output is kept.
	for _, f := range failures {
		t.Error(brieflySaid(f))
	}
}

// brieflySaid cuts what was said in the middle.
func brieflySaid(s string) string {
	const most = 400
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return string(r[:most/2]) + " […] " + string(r[len(r)-most/2:])
}

// longest are the rows of the first of two guests, which take about as long as
// all others together: each has a processor of its own to run on.
var longest = []string{"counter 1000 Hz", "analogue", "two devices"}

// shares gives the patterns of the tests that each guest runs.
func shares() []string {
	first, second := strings.Join(longest, "|"), troublesRow
	for _, p := range guestPads() {
		if !slices.Contains(longest, p.name) {
			second += "|" + p.name
		}
	}
	whole := func(names string) string { return strings.ReplaceAll("^("+names+")$", " ", "_") }
	return []string{whole(first), whole(second)}
}

// guest is a guest that has run.
type guest struct {
	number  int
	checks  results
	exit    string
	console string
	worked  time.Duration // processor time of QEMU
	err     error         // why it broke off
}

// results are what came of the checks, by row and check.
type results map[string]map[string]string

// boot runs a guest that does the tests of a pattern to its end. The clock is the
// count of its instructions: time inside is exact, and passes at once where
// nothing is done.
func boot(ctx context.Context, k *kernel, root string, number int, pattern string) *guest {
	g := &guest{number: number, checks: results{}}
	g.err = g.run(ctx, k, root, pattern)
	return g
}

func (g *guest) run(ctx context.Context, k *kernel, root, pattern string) error {
	monitor := filepath.Join(filepath.Dir(root), fmt.Sprint("monitor", g.number))
	c := exec.CommandContext(ctx, "qemu-system-x86_64", "-machine", "q35", "-accel", "tcg", "-cpu", "max", "-smp", "1", "-m", "384",
		"-nodefaults", "-no-user-config", "-display", "none", "-no-reboot",
		"-icount", "shift=0,sleep=off", "-rtc", "base=2026-01-01,clock=vm",
		"-device", "qemu-xhci,id=xhci",
		"-kernel", k.image, "-initrd", root,
		"-append", "console=ttyS0 quiet loglevel=3 panic=-1 tsc=reliable no_timer_check mitigations=off random.trust_cpu=on -- -test.v -test.timeout=0 -test.run=^TestGuest$/"+pattern,
		"-serial", "stdio", "-qmp", "unix:"+monitor+",server=on,wait=off")
	out, err := c.StdoutPipe()
	if err != nil {
		return err
	}
	in, err := c.StdinPipe()
	if err != nil {
		return err
	}
	var errs strings.Builder
	c.Stderr = &errs
	if err := c.Start(); err != nil {
		return err
	}
	m, err := dialMonitor(ctx, monitor)
	if err == nil {
		defer m.Close()
		err = g.listen(out, in, m)
	}
	if err != nil {
		c.Process.Kill()
	}
	if e := c.Wait(); err == nil {
		err = e
	}
	g.worked = c.ProcessState.UserTime() + c.ProcessState.SystemTime()
	if err != nil {
		err = fmt.Errorf("%w %s", err, errs.String())
	}
	return err
}

// dialMonitor connects to QEMU's monitor (the QEMU machine protocol).
func dialMonitor(ctx context.Context, socket string) (net.Conn, error) {
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	for {
		c, err := net.Dial("unix", socket)
		if err == nil {
			fmt.Fprintln(c, `{"execute":"qmp_capabilities"}`)
			return c, nil
		}
		select {
		case <-ctx.Done():
			return nil, err
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// listen follows the guest's console until it is powered off.
func (g *guest) listen(out io.Reader, in io.Writer, monitor net.Conn) error {
	done := make(chan string)
	go func() {
		defer close(done)
		for sc := bufio.NewScanner(monitor); sc.Scan(); {
			if strings.HasPrefix(sc.Text(), `{"return"`) || strings.HasPrefix(sc.Text(), `{"error"`) {
				done <- sc.Text()
			}
		}
	}()
	<-done // the capabilities
	var console strings.Builder
	start := time.Now()
	sc := bufio.NewScanner(out)
	sc.Buffer(nil, 1<<20)
	for sc.Scan() {
		line := strings.TrimRight(sc.Text(), "\r")
		if os.Getenv("HEELTOE_PADS") == "console" {
			fmt.Fprintf(os.Stderr, "%d %6.1f %s\n", g.number, time.Since(start).Seconds(), line)
		}
		console.WriteString(line + "\n")
		_, mark, ok := strings.Cut(line, "@@")
		if !ok {
			continue
		}
		mark = "@@" + mark
		if text, ok := strings.CutPrefix(mark, markMonitor); ok {
			fmt.Fprintln(monitor, text)
			fmt.Fprintln(in, <-done)
		} else if text, ok := strings.CutPrefix(mark, markExit); ok {
			g.exit = text
		} else if text, ok := strings.CutPrefix(mark, markCheck); ok {
			f := strings.SplitN(text, "\t", 3)
			if len(f) != 3 {
				return fmt.Errorf("a check that cannot be read: %q", text)
			}
			if g.checks[f[0]] == nil {
				g.checks[f[0]] = map[string]string{}
			}
			g.checks[f[0]][f[1]] = f[2]
		}
	}
	g.console = console.String()
	return sc.Err()
}

// table gives pads × checks and the troubles, and those that did not run or failed.
func (r results) table() (text string, missing, failed []string) {
	var b strings.Builder
	// cell gives what is shown of a check, and keeps it where it is not well.
	cell := func(row, name string) string {
		got, ran := r[row][name]
		switch {
		case !ran:
			missing = append(missing, row+", "+name)
			return "NOT RUN"
		case strings.HasPrefix(got, "FAILED"):
			failed = append(failed, fmt.Sprintf("%s, %s: %s", row, name, got))
			return "FAILED"
		}
		return got
	}
	const first = 16
	fmt.Fprintf(&b, "%-*s", first, "pad")
	for _, c := range checks {
		fmt.Fprintf(&b, " %-*s", c.width, c.name)
	}
	b.WriteString("\n")
	for _, p := range guestPads() {
		fmt.Fprintf(&b, "%-*s", first, p.name)
		for _, c := range checks {
			shown := "–"
			if c.applies(&p) {
				shown = cell(p.name, c.name)
			}
			fmt.Fprintf(&b, " %-*s", c.width, shown)
		}
		b.WriteString("\n")
	}
	b.WriteString("\nwhat goes wrong        what the player is told\n")
	for _, w := range troubles {
		fmt.Fprintf(&b, "%-22s %s\n", w.name, cell(troublesRow, w.name))
	}
	return b.String(), missing, failed
}
