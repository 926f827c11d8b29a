package main

import (
	"heeltoe/render"
	"heeltoe/render/window"
	"heeltoe/trainer/desk"
	"heeltoe/trainer/view"
)

func (p *pages) theme() {
	p.screen.Theme = render.Dark
	if p.light {
		p.screen.Theme = render.Light
	}
}

// Update implements window.Page. Keys that stand for panels go first to the
// source that they are, stamped now: they are exact to a frame.
func (p *pages) Update(in *window.Input) bool {
	d := p.desk
	p.screen.Scale = in.Scale
	for _, k := range in.Pressed {
		if panel, ok := d.Panel(k); ok {
			p.keys.Set(panel, true)
		} else {
			p.press(k, in.Shift)
		}
	}
	for _, k := range in.Released {
		if panel, ok := d.Panel(k); ok {
			p.keys.Set(panel, false)
		}
	}
	for _, k := range in.Repeated {
		switch k {
		case "ArrowUp", "ArrowDown", "ArrowLeft", "ArrowRight", "Backspace", "PageUp", "PageDown":
			p.press(k, in.Shift)
		}
	}
	if d.Page == desk.Choosing {
		for _, r := range in.Typed {
			d.Write(r)
		}
	}
	if in.Clicked {
		if z, ok := p.screen.Hit(in.X, in.Y); ok {
			p.click(z, in.Shift)
		}
	}
	if in.Wheel != 0 {
		p.wheel(in.Wheel)
	}
	if p.focused && !in.Focused {
		d.FocusLost()
	}
	p.focused = in.Focused
	d.Frame()
	return !d.Done && !in.Closing
}

// press obeys a key.
func (p *pages) press(k string, shift bool) {
	d := p.desk
	n := 1
	if shift {
		n = 10
	}
	switch k {
	case "F1":
		d.ShowHelp()
		return
	case "F4":
		p.light = !p.light
		p.theme()
		return
	case "F11":
		window.ToggleFullScreen()
		return
	case "Escape":
		d.End()
		return
	}
	switch d.Page {
	case desk.Choosing:
		switch k {
		case "ArrowUp":
			d.Move(-1)
		case "ArrowDown", "Tab":
			d.Move(1)
		case "ArrowLeft":
			d.ChangeFocused(-n)
		case "ArrowRight":
			d.ChangeFocused(n)
		case "Backspace":
			d.Erase()
		case "Enter", "NumpadEnter":
			d.Begin()
		case "F3":
			d.TeachKeys()
		}
	case desk.Running:
		switch k {
		case "Enter", "NumpadEnter":
			d.Again()
		case "F2":
			d.Pause()
		}
	case desk.Teaching:
		switch k {
		case "F3":
			d.DefaultKeys()
		case "F2", "Enter", "NumpadEnter":
		default:
			d.GiveKey(k)
		}
	case desk.Helping:
		switch k {
		case "ArrowUp":
			d.ScrollHelp(-1)
		case "ArrowDown":
			d.ScrollHelp(1)
		case "PageUp":
			d.ScrollHelp(-4)
		case "PageDown":
			d.ScrollHelp(4)
		}
	}
}

// click obeys a click into a zone.
func (p *pages) click(z render.Zone, shift bool) {
	d := p.desk
	n := 1
	if shift {
		n = 10
	}
	switch z.Act {
	case render.Begin:
		if d.Page == desk.Running {
			d.Again()
		} else {
			d.Begin()
		}
	case render.Stop, render.Back, render.GoDesk:
		d.End()
	case render.Pause:
		d.Pause()
	case render.GoTeach:
		d.TeachKeys()
	case render.GoHelp:
		d.ShowHelp()
	case render.Explain:
		d.Explain(z.N)
	case render.PickDrill:
		d.Pick(z.N)
	case render.FocusField:
		d.Focus(z.N)
	case render.FocusSearch:
		d.Focus(0)
	case render.Less:
		d.Focus(z.N)
		d.Change(z.N, -n)
	case render.More:
		d.Focus(z.N)
		d.Change(z.N, n)
	case render.Earlier:
		p.wheel(1)
	case render.Later:
		p.wheel(-1)
	case render.FullScreen:
		window.ToggleFullScreen()
	case render.SwapTheme:
		p.light = !p.light
		p.theme()
	}
}

// wheel scrolls what can be scrolled.
func (p *pages) wheel(lines float32) {
	n := -1
	if lines < 0 {
		n = 1
	}
	switch p.desk.Page {
	case desk.Choosing:
		p.desk.Focus(0)
		p.desk.ChangeFocused(n)
	case desk.Helping:
		p.desk.ScrollHelp(n)
	}
}

// Keys of the pages, shown on their last line.
var (
	keyHelp    = render.Hint{Key: "F1", Text: "what everything means", Act: render.GoHelp}
	keyBack    = render.Hint{Key: "Esc", Text: "back", Act: render.Back}
	keysChoose = []render.Hint{{Key: "Enter", Text: "begin", Act: render.Begin}, keyHelp,
		{Key: "F3", Text: "keys for panels", Act: render.GoTeach}, {Key: "F4", Text: "dark, light", Act: render.SwapTheme},
		{Key: "F11", Text: "full screen", Act: render.FullScreen}, {Key: "Esc", Text: "close", Act: render.Back}}
	keysPlay  = []render.Hint{{Key: "F2", Text: "pause", Act: render.Pause}, {Key: "Esc", Text: "end", Act: render.Stop}, keyHelp}
	keysHeld  = []render.Hint{{Key: "F2", Text: "go on", Act: render.Pause}, {Key: "Enter", Text: "from the start", Act: render.Begin}, keyHelp, keyBack}
	keysOver  = []render.Hint{{Key: "Enter", Text: "again", Act: render.Begin}, keyHelp, keyBack}
	keysTeach = []render.Hint{{Key: "F3", Text: "the first keys again", Act: render.NoAct}, keyBack}
	keysHelp  = []render.Hint{{Key: "Up, Down", Text: "scroll", Act: render.Later}, keyBack}
)

// hints gives the keys of the page that is shown.
func hints(d *desk.Desk) []render.Hint {
	switch d.Page {
	case desk.Teaching:
		return keysTeach
	case desk.Helping:
		return keysHelp
	case desk.Choosing:
		return keysChoose
	}
	switch d.Live.Phase {
	case view.Held:
		return keysHeld
	case view.Over, view.AtRest:
		return keysOver
	}
	return keysPlay
}

// Draw implements window.Page.
func (p *pages) Draw(c render.Canvas, w, h int) {
	d, s := p.desk, &p.screen
	s.Hints = hints(d)
	switch d.Page {
	case desk.Choosing:
		s.Desk(c, w, h, &d.Sheet)
	case desk.Running:
		s.Live(c, w, h, &d.Live)
	case desk.Teaching:
		s.Teach(c, w, h, &d.Teach)
	case desk.Helping:
		s.Help(c, w, h, &d.Help)
	}
}
