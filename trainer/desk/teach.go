package desk

import (
	"slices"

	"heeltoe/footing/pad"
	"heeltoe/trainer/live"
	"heeltoe/trainer/profile"
)

// KeysLimits says what a keyboard cannot do as a pad.
const KeysLimits = "A keyboard is exact to one frame of the screen only, about 17 ms: fit to learn a pattern, not to measure timing. Many keyboards refuse some keys held together; try the chords that you need."

// Panel gives the panel that a key stands for on the drill's layout, while keys
// stand for panels: on the run's page.
func (d *Desk) Panel(key string) (pad.Panel, bool) {
	if d.Page != Running || d.Live.Layout == nil {
		return pad.NoPanel, false
	}
	return d.keys.Panel(d.Live.Layout.Name, key)
}

// TeachKeys begins to ask for the key of each panel of the chosen drill's layout.
func (d *Desk) TeachKeys() {
	if d.run != nil || d.sheet.drill == nil {
		return
	}
	d.Page, d.asks, d.got = Teaching, 0, nil
	live.Still(&d.still, d.sheet.drill, nil)
	d.still.Next = d.still.Next[:0]
	d.Teach.Live, d.Teach.Limits = &d.still, KeysLimits
	d.showTeach("")
}

// GiveKey takes the key for the panel that is asked for.
func (d *Desk) GiveKey(key string) {
	if d.Page != Teaching {
		return
	}
	l := d.sheet.drill.Layout
	if d.asks < 0 {
		return
	}
	if slices.Contains(d.got, key) {
		d.showTeach(key + " stands for another panel already: choose another key. ")
		return
	}
	d.got = append(d.got, key)
	d.asks++
	if d.asks < len(l.Panels) {
		d.showTeach("")
		return
	}
	d.asks = -1
	keys, err := profile.LoadKeys()
	if err == nil {
		keys[l.Name] = slices.Clone(d.got)
		err = profile.SaveKeys(keys)
	}
	if err != nil {
		d.showTeach("The keys cannot be kept: " + err.Error() + ". ")
		return
	}
	d.keys = keys
	d.showTeach("The keys are kept. ")
}

// DefaultKeys gives the layout its first keys back.
func (d *Desk) DefaultKeys() {
	if d.Page != Teaching {
		return
	}
	l := d.sheet.drill.Layout
	d.got = slices.Clone(profile.DefaultKeys()[l.Name])
	last := d.got[len(d.got)-1]
	d.got = d.got[:len(d.got)-1]
	d.asks = len(d.got)
	d.GiveKey(last)
}

// showTeach brings the page up to date.
func (d *Desk) showTeach(say string) {
	l := d.sheet.drill.Layout
	v := &d.Teach
	v.Asked = d.asks
	v.Keys = v.Keys[:0]
	for p := range l.Panels {
		key := ""
		switch {
		case p < len(d.got):
			key = d.got[p]
		case d.asks < 0:
			key = d.keys[l.Name][p]
		}
		v.Keys = append(v.Keys, key)
	}
	if d.asks >= 0 {
		v.Say = say + "Press the key for " + l.Panels[d.asks].ID + "."
	} else {
		v.Say = say + "Escape goes back."
	}
}
