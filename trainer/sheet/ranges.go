package sheet

import (
	"heeltoe/footing"
	"heeltoe/judge/drill"
	"heeltoe/trainer/view"
)

// Ranges gives the plot's values of what footing.Over found for d from one tempo to
// another: a row for each footing that is the easiest somewhere, in order of tempo.
func Ranges(d *drill.Drill, stretches []footing.Stretch, body footing.Body, from, to float64) *view.Ranges {
	v := &view.Ranges{Drill: d.Name, From: from, To: to}
	rows := map[string]int{}
	for _, s := range stretches {
		if s.Footing == nil {
			continue
		}
		text := drill.FootingText(d, s.Footing.Contacts)
		i, ok := rows[text]
		if !ok {
			i = len(v.Rows)
			rows[text] = i
			row := view.RangeRow{Number: i + 1, Technique: s.Footing.Technique, Text: text}
			v.Measured = v.Measured || footing.BackingOf(d, s.Footing.Contacts, body).Measured()
			for b, r := range s.Footing.Tempo {
				row.Tempo[b] = view.Tempi(r)
			}
			v.Rows = append(v.Rows, row)
		}
		v.Rows[i].Easiest = append(v.Rows[i].Easiest, view.Tempi{Slowest: s.Slowest, Fastest: s.Fastest})
	}
	return v
}
