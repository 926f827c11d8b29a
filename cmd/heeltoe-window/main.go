// Command heeltoe-window shows the practice on the screen. heeltoe live starts
// it where there is a display; it takes the same flags.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/alecthomas/kong"

	_ "heeltoe/cmd/heeltoe-window/guard"
	"heeltoe/cmd/internal/metronome"
	"heeltoe/cmd/internal/monitor"
	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/usb"
	"heeltoe/render"
	"heeltoe/render/sound"
	"heeltoe/render/window"
	"heeltoe/trainer/desk"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/turns"
)

// Exit codes, as the contract has them.
const (
	exitDone    = 0
	exitError   = 1
	exitInput   = 2
	exitLacking = 3
)

// letGo is how long the program waits at its end for a pad to be let go of.
const letGo = 6 * time.Second

// flags are the command line: those of a run, and how the window begins.
type flags struct {
	practice.Choice
	monitor.Flags
	FullScreen bool   `name:"full-screen" help:"Fill the screen."`
	Light      bool   `help:"Dark marks on a light ground."`
	Size       string `default:"1280x720" placeholder:"WxH" help:"Size of the window in pixels, at least 800x600."`
}

func main() {
	// Two more than there are processors, so that a reader whose report has come
	// does not wait for one that draws or reads feet.
	runtime.GOMAXPROCS(runtime.NumCPU() + 2)
	turns.Soon()
	os.Exit(run(os.Args[1:]))
}

func run(args []string) int {
	var f flags
	exited := -1
	parser, err := kong.New(&f, kong.Name("heeltoe-window"),
		kong.Description("Practice of footwork on five-panel floor pads, on the screen."), kong.Exit(func(code int) { exited = code }))
	if err != nil {
		return fail(err)
	}
	_, err = parser.Parse(args)
	if exited >= 0 {
		return exited
	}
	if err != nil {
		fmt.Fprintf(os.Stderr, "heeltoe-window: %v\nhint: heeltoe-window --help lists the flags\n", err)
		return exitInput
	}
	w, h, err := size(f.Size)
	if err != nil {
		return fail(err)
	}
	if err := f.Click.Settle(); err != nil {
		return fail(err)
	}
	if f.Drill != "" {
		d, err := f.Load()
		if err == nil {
			_, err = metronome.Schedule(f.Click, d, practice.Lead(d), 0)
		}
		if err != nil {
			return fail(err)
		}
	}
	if _, err := practice.ParseWindows(f.Windows); err != nil {
		return fail(err)
	}
	say := func(format string, args ...any) { fmt.Fprintf(os.Stderr, format+"\n", args...) }
	m, err := f.Flags.Start(say, say)
	if err != nil {
		return fail(err)
	}
	if m != nil {
		defer m.Close()
		f.Watch = m.Watch
	}
	click := metronome.New(sound.Machine)
	defer click.Close()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	keys := input.NewPushed("keyboard, exact to a frame")
	d, err := desk.New(desk.Config{Choice: f.Choice, Keys: keys, Click: click, Begin: f.Drill != ""})
	if err != nil {
		return fail(err)
	}
	var page window.Page = newPages(d, keys, f.Light)
	if m != nil {
		page = timed{page, m}
	}
	err = window.Run(ctx, page, window.Options{Title: "heeltoe", Width: w, Height: h, FullScreen: f.FullScreen}, nil)
	d.Close(letGo)
	if err != nil {
		return fail(fmt.Errorf("the window: %w", err))
	}
	return exitDone
}

// size reads WxH.
func size(s string) (w, h int, err error) {
	a, b, ok := strings.Cut(s, "x")
	w, err1 := strconv.Atoi(a)
	h, err2 := strconv.Atoi(b)
	if !ok || err1 != nil || err2 != nil || w < window.MinWidth || h < window.MinHeight || w > 16384 || h > 16384 {
		return 0, 0, practice.Wrongf("--size: %q is not WIDTHxHEIGHT in pixels, at least %dx%d", s, window.MinWidth, window.MinHeight)
	}
	return w, h, nil
}

// fail prints err and gives its exit code.
func fail(err error) int {
	var wrong *practice.Wrong
	var lacks *practice.Lacking
	var usbLacks *usb.Lacking
	switch {
	case pad.IsBadInput(err):
		fmt.Fprintln(os.Stderr, err)
		return exitInput
	case errors.As(err, &wrong):
		fmt.Fprintln(os.Stderr, "heeltoe-window:", err)
		return exitInput
	case errors.As(err, &lacks), errors.As(err, &usbLacks):
		fmt.Fprintln(os.Stderr, "heeltoe-window:", err)
		return exitLacking
	}
	fmt.Fprintln(os.Stderr, "heeltoe-window:", err)
	return exitError
}

// timed is a page whose drawing is counted.
type timed struct {
	window.Page
	m *monitor.Monitor
}

// Draw implements window.Page.
func (t timed) Draw(c render.Canvas, w, h int) {
	began := time.Now()
	t.Page.Draw(c, w, h)
	t.m.Frame(time.Since(began))
}

// pages shows the desk and tells it what was pressed.
type pages struct {
	desk    *desk.Desk
	keys    *input.Pushed
	screen  render.Screen
	light   bool
	focused bool
}

func newPages(d *desk.Desk, keys *input.Pushed, light bool) *pages {
	p := &pages{desk: d, keys: keys, light: light}
	p.theme()
	return p
}
