package desk

import (
	"heeltoe/trainer/live"
	"heeltoe/trainer/view"
)

// topics are the help page: every mark and figure of the screen.
func topics() []view.Topic {
	t := []view.Topic{
		{Name: "keys of the program", Text: "Enter begins, and repeats once a run is over. F2 pauses and goes on. Escape ends a run, and goes back. F1 shows this page. F3 gives panels their keys. F4 changes between dark and light. F11 fills the screen. On the sheet: up and down choose a field, left and right change it, with Shift by ten; typing searches the drills, or fills the field. The mouse does all of it too."},
		{Name: "keys for panels", Text: "R over F are the left corners, U over J the right ones, the space bar is the centre; on a second pad 7 over 4, 9 over 6 and 0 of the number pad. " + KeysLimits},
		{Name: "orders from the pad", Text: "Between runs, hold one panel for 1.2 seconds: the centre plays again, the right corners change the tempo by 5, the upper left one mirrors the drill, the lower left one stops. The pad plan shows them and how long is left. Nothing is an order during a run, nor before every panel has been up."},
		{Name: "loop strip", Text: "One rep from left to right, a row a panel. A tick is the moment at which a note is due; the boxes about it are the inner, middle and outer windows, wider on the late side. A bar is a panel that is down, from press to release; bars of the reps before are faint behind. The upright line is now; at the end it begins again at the left. What lies before the first slot goes round the drum to the right end."},
		{Name: "pad plan", Text: "The pad from above, to scale, the player facing up. A filled panel is down. An outline is the next landing, where the drill has a footing. A foot can rest on the cells between the panels unseen."},
		{Name: "feet", Text: "The left foot is hatched one way and bluish green, the right foot the other way and reddish purple. The pad reports panels, never feet: what is shown on due ticks and outlines is the footing that the drill asks for."},
		{Name: "timing chart", Text: "One line of paper a rep, the newest on top; across it milliseconds, early to the left, late to the right. For each panel a tick at the median offset and a bar from the lower to the upper quartile. The upright lines are the bounds of the windows."},
		{Name: "grey figures", Text: "Finer than the pad can tell: a standard deviation of which the time between two of the pad's reports makes the larger part (interval/√12), or an offset that is less than that alone spreads a press by. Only of a pad that was checked (heeltoe pads check). A click on the figure says it with its numbers."},
		{Name: "panel-free time", Text: "Time with no panel down. It is not flight: a foot may stand on a dead cell."},
	}
	var v view.Live
	live.NoFigures(&v, 0, 0, 0, "")
	for _, f := range v.Figures {
		name := f.Name
		if f.Unit != "" {
			name += " (" + f.Unit + ")"
		}
		t = append(t, view.Topic{Name: name, Text: f.Help})
	}
	return append(t, view.Topic{Name: "before you jump", Text: view.CautionLong})
}
