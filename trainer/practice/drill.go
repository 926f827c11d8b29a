package practice

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"heeltoe/judge/drill"
	"heeltoe/trainer/drills"
)

// DrillChoice says which drill is played, and how it is changed. Its tags name
// the flags of the command line.
type DrillChoice struct {
	Drill   string  `arg:"" optional:"" help:"Built-in drill (see heeltoe drills list) or drill file."`
	Mirror  bool    `help:"Left and right exchanged."`
	Reverse bool    `help:"From the end to the start."`
	Within  bool    `help:"Wrapped in notes that lead in and out."`
	BPM     float64 `name:"bpm" help:"Tempo in beats a minute, instead of the drill's."`
	Reps    int64   `help:"Number of reps, instead of the drill's."`
}

// Load gives the drill as the flags change it. Its errors are *Wrong or *pad.BadInput.
func (f *DrillChoice) Load() (*drill.Drill, error) {
	if f.Drill == "" {
		return nil, Wrongf("name a drill: heeltoe drills list shows the built-in ones; a drill file ends in .toml or has a / in its path")
	}
	d, err := LoadDrill(f.Drill, f.Mirror, f.Reverse, f.Within)
	if err != nil {
		return nil, err
	}
	return f.Paced(d)
}

// Paced gives d with the tempo and the reps that the flags ask for. Its errors are *Wrong.
func (f *DrillChoice) Paced(d *drill.Drill) (*drill.Drill, error) {
	var err error
	if f.BPM != 0 {
		if d, err = d.WithTempo(f.BPM); err != nil {
			return nil, Wrongf("--%v", err)
		}
	}
	if f.Reps != 0 {
		if d, err = d.WithReps(f.Reps); err != nil {
			return nil, Wrongf("--%v", err)
		}
	}
	return d, nil
}

// LoadDrill gives a built-in drill by its id, or reads a drill file where ref
// has a path separator or ends in .toml, changed as asked.
func LoadDrill(ref string, mirror, reverse, within bool) (*drill.Drill, error) {
	var d *drill.Drill
	var err error
	if strings.HasSuffix(ref, ".toml") || strings.ContainsAny(ref, `/`+string(filepath.Separator)) {
		d, err = drill.ReadFile(ref)
	} else if d, err = drills.Load(ref); err != nil {
		err = unknownDrill(ref)
	}
	if err != nil {
		return nil, err
	}
	for _, change := range []struct {
		wanted bool
		flag   string
		f      func(*drill.Drill) (*drill.Drill, error)
	}{
		{mirror, "--mirror", (*drill.Drill).Mirror},
		{reverse, "--reverse", (*drill.Drill).Reverse},
		{within, "--within", drills.Within},
	} {
		if !change.wanted {
			continue
		}
		if d, err = change.f(d); err != nil {
			return nil, Wrongf("%s: %v", change.flag, err)
		}
	}
	return d, nil
}

// unknownDrill names the drills whose ids are near to id, or begin or contain it.
func unknownDrill(id string) error {
	hint := "heeltoe drills list shows them all; a drill file ends in .toml or has a / in its path"
	if _, err := os.Stat(id); err == nil {
		return Wrongf("there is no built-in drill %q; to read the file of that name write ./%s", id, id)
	}
	type near struct {
		id       string
		distance int
	}
	var all []near
	for _, e := range drills.List() {
		n := editDistance(id, e.ID)
		if id != "" && (strings.Contains(e.ID, id) || strings.Contains(id, e.ID)) {
			n = min(n, 2)
		}
		if n <= max(2, utf8.RuneCountInString(id)/3) {
			all = append(all, near{e.ID, n})
		}
	}
	slices.SortStableFunc(all, func(a, b near) int { return a.distance - b.distance })
	if len(all) == 0 {
		return Wrongf("there is no built-in drill %q; %s", id, hint)
	}
	var ids []string
	for _, n := range all[:min(len(all), 5)] {
		ids = append(ids, n.id)
	}
	return Wrongf("there is no built-in drill %q; near to it: %s; %s", id, strings.Join(ids, ", "), hint)
}

// editDistance counts the letters to insert, delete or replace to make b of a.
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			above := row[j+1]
			if a[i] != b[j] {
				diagonal++
			}
			row[j+1] = min(diagonal, above+1, row[j]+1)
			diagonal = above
		}
	}
	return row[len(b)]
}
