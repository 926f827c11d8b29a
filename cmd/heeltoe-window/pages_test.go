package main

import (
	"fmt"
	"testing"
	"time"

	"heeltoe/input"
	"heeltoe/render"
	"heeltoe/render/window"
	"heeltoe/trainer/desk"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/view"
)

// hand works the pages without a window: it clicks where the page has drawn
// something and presses keys.
type hand struct {
	t    *testing.T
	p    *pages
	keys *input.Pushed
}

func newHand(t *testing.T, c practice.Choice) *hand {
	home(t)
	c.Click.Sound = "off"
	keys := input.NewPushed("keys")
	d, err := desk.New(desk.Config{Choice: c, Keys: keys, Begin: c.Drill != ""})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close(time.Second) })
	return &hand{t, newPages(d, keys, false), keys}
}

// frame is one frame in which in happens.
func (h *hand) frame(in window.Input) bool {
	in.Focused = true
	on := h.p.Update(&in)
	h.p.Draw(render.NewPicture(1280, 720), 1280, 720)
	return on
}

// click clicks into the middle of what means act, of the n-th thing.
func (h *hand) click(act render.Act, n int) {
	h.t.Helper()
	h.frame(window.Input{})
	for _, z := range h.p.screen.Zones {
		if z.Act == act && z.N == n {
			h.frame(window.Input{Clicked: true, X: z.X + z.W/2, Y: z.Y + z.H/2})
			return
		}
	}
	h.t.Fatalf("page %d has nothing to click for act %d of %d", h.p.desk.Page, act, n)
}

func (h *hand) press(keys ...string) {
	for _, k := range keys {
		h.frame(window.Input{Pressed: []string{k}})
		h.frame(window.Input{Released: []string{k}})
	}
}

func (h *hand) until(what string, holds func() bool) {
	h.t.Helper()
	for end := time.Now().Add(20 * time.Second); !holds(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			h.t.Fatalf("waited in vain for %s", what)
		}
		h.frame(window.Input{})
	}
}

func (h *hand) field(name string) (int, string) {
	h.t.Helper()
	for i, f := range h.p.desk.Sheet.Fields {
		if f.Name == name {
			return i, f.Value
		}
	}
	h.t.Fatalf("there is no field %s", name)
	return 0, ""
}

// Everything that a run needs is chosen with the mouse alone, and the run is
// begun, held, gone on with, ended and explained with it.
func TestByMouse(t *testing.T) {
	h := newHand(t, practice.Choice{Source: "auto"})
	d := h.p.desk
	h.click(render.PickDrill, 5)
	picked := d.Sheet.Drills[5].ID
	if d.Sheet.Chosen != 5 {
		t.Fatalf("clicking the sixth drill chooses number %d", d.Sheet.Chosen)
	}
	source, _ := h.field("presses from")
	h.click(render.More, source)
	h.click(render.More, source)
	h.click(render.More, source)
	if _, v := h.field("presses from"); v != "synth" {
		t.Fatalf("presses from %s", v)
	}
	tempo, _ := h.field("tempo")
	before := d.Sheet.Live.BPM
	h.click(render.More, tempo)
	h.click(render.More, tempo)
	h.click(render.Less, tempo)
	if d.Sheet.Live.BPM != before+1 || d.Sheet.Focus != tempo {
		t.Errorf("tempo %v, focus %d", d.Sheet.Live.BPM, d.Sheet.Focus)
	}
	h.frame(window.Input{Wheel: -1}) // scrolls the drills
	if d.Sheet.Chosen != 6 {
		t.Errorf("the wheel chooses number %d", d.Sheet.Chosen)
	}
	h.frame(window.Input{Wheel: 1})
	h.click(render.GoTeach, 0)
	if d.Page != desk.Teaching {
		t.Fatal("the keys are not asked for")
	}
	h.click(render.Back, 0)
	h.click(render.SwapTheme, 0)
	if h.p.screen.Theme != render.Light {
		t.Error("the page is not light")
	}
	h.click(render.Begin, 0)
	h.until("the first rep", func() bool { return len(d.Live.Lines) > 0 })
	h.click(render.Pause, 0)
	h.until("the hold", func() bool { return d.Live.Phase == view.Held })
	h.click(render.Pause, 0)
	h.until("going on", func() bool { return d.Live.Phase == view.Playing })
	h.click(render.Explain, 1)
	if d.Page != desk.Helping || d.Help.Topics[d.Help.Top].Name != "spread, last rep (ms)" {
		t.Errorf("the spread is explained by %q", d.Help.Topics[d.Help.Top].Name)
	}
	h.click(render.Back, 0)
	h.click(render.Stop, 0)
	h.until("the end", func() bool { return d.Live.Phase == view.Over })
	if f := logs(t); len(f) != 2 {
		t.Errorf("%d logs", len(f))
	}
	h.click(render.Back, 0)
	if d.Page != desk.Choosing || d.Sheet.Drills[d.Sheet.Chosen].ID != picked {
		t.Error("the sheet is not there again")
	}
}

// Keys: each page's own, keys for panels while a run is shown, help everywhere.
func TestByKeys(t *testing.T) {
	h := newHand(t, practice.Choice{Source: "keys"})
	d := h.p.desk
	h.press("ArrowDown", "ArrowRight")
	if _, v := h.field("mirror"); v != "yes" {
		t.Errorf("mirror %s", v)
	}
	h.frame(window.Input{Pressed: []string{"ArrowDown"}, Typed: nil})
	h.press("Tab", "Tab")
	if d.Sheet.Fields[d.Sheet.Focus].Name != "tempo" {
		t.Fatalf("the focus is on %s", d.Sheet.Fields[d.Sheet.Focus].Name)
	}
	before := d.Sheet.Live.BPM
	h.frame(window.Input{Pressed: []string{"ArrowRight"}, Shift: true})
	h.frame(window.Input{Repeated: []string{"ArrowRight"}})
	if d.Sheet.Live.BPM != before+11 {
		t.Errorf("tempo %v, was %v", d.Sheet.Live.BPM, before)
	}
	h.press("F1", "PageDown", "ArrowUp")
	if d.Page != desk.Helping || d.Help.Top != 3 {
		t.Errorf("help stands at topic %d", d.Help.Top)
	}
	h.press("F1", "F3")
	if d.Page != desk.Teaching {
		t.Fatal("F3 does not ask for keys")
	}
	for i := range 5 {
		h.press(fmt.Sprint("Digit", i))
	}
	h.press("Escape", "F4", "Enter")
	h.until("the run", func() bool { return d.Live.Phase == view.CountIn })
	h.until("both panels down", func() bool { // what is pressed before the run listens is lost
		h.frame(window.Input{Pressed: []string{"Digit0", "Digit1", "R"}})
		return d.Live.Down == 0b11
	})
	h.frame(window.Input{Released: []string{"Digit0"}})
	h.until("one panel down", func() bool { return d.Live.Down == 0b10 })
	h.press("Escape")
	h.until("the end", func() bool { return d.Live.Phase == view.Over })
	h.press("Escape")
	if on := h.frame(window.Input{Pressed: []string{"Escape"}}); on {
		t.Error("Escape on the sheet does not close the window")
	}
}

// Losing the focus holds a run; closing the window ends the program.
func TestFocusAndClosing(t *testing.T) {
	h := newHand(t, practice.Choice{Source: "synth", DrillChoice: practice.DrillChoice{Drill: "corner-hook"}})
	h.until("the run", func() bool { return h.p.desk.Live.Phase == view.Playing })
	h.p.Update(&window.Input{Focused: false})
	h.until("the hold", func() bool { return h.p.desk.Live.Phase == view.Held })
	if h.frame(window.Input{Closing: true}) {
		t.Error("the window stays")
	}
}
