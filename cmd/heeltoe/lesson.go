package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"heeltoe/judge/drill"
	"heeltoe/trainer/lesson"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/store"
	"heeltoe/trainer/view"
)

type lessonCmd struct {
	Give    lessonGiveCmd    `cmd:"" help:"From a pupil's runs: the landing that breaks first, three graded drills, homework."`
	Compare lessonCompareCmd `cmd:"" help:"A week later: what became of the landing since the homework was given."`
}

// Help is shown by lesson --help.
func (c *lessonCmd) Help() string {
	return `A lesson for a pupil, or for yourself. give looks into runs of a drill, best at several tempi,
and writes a folder: homework.txt to print, three drill files to play, homework.json for the
comparison. compare takes the runs since then.`
}

type lessonGiveCmd struct {
	chosenRuns
	Out   string `placeholder:"FOLDER" help:"Folder for the drills and the homework."`
	Force bool   `help:"Replace files that are there."`
	JSON  bool   `name:"json" help:"Print the homework as one JSON object."`
}

// Help is shown by lesson give --help.
func (c *lessonGiveCmd) Help() string {
	return fmt.Sprintf(`Finds the landing that breaks first as the tempo rises. A landing is good in a rep where all its
notes are inner or middle; once one has failed, the later ones of that rep count for nothing, since a slip
throws what comes after it. Its limit is the tempo at which it is good in %.0f %% of the reps. It is
named where it is the first with a probability of %.0f %% or more; else the likeliest is taken, and that is said.

The landings are those of the drill's footing or, where it has none, of the easiest footing with the
technique that most runs were read as. The three drills are the whole well below the limit with the
exact footing, the landing split out with its neighbours, and the whole rejoined just below the limit.
A lesson is no medical advice.`, 100*lesson.Share, 100*lesson.Shown)
}

// Run looks into the runs and writes the homework.
func (c *lessonGiveCmd) Run(a *app) error {
	if c.Out == "" && !c.JSON {
		return usagef("name a folder for the drills and the homework with --out, or print the homework with --json")
	}
	key, runs, err := c.load(a)
	if err != nil {
		return err
	}
	var reports []*view.Report
	var newest *chosenRun
	read := map[string]int{}
	for i := range runs {
		if r := &runs[i]; r.key == key {
			reports, newest = append(reports, r.report), r
			read[r.report.Run.Technique]++
		}
	}
	if newest == nil {
		return usagef("there is no such run yet on this side; its mirror image has some")
	}
	body, err := (&practice.BodyChoice{Player: newest.alike.player}).Body()
	if err != nil {
		return err
	}
	d, err := lesson.Exact(newest.drill, most(read), body.Body, newest.alike.windows)
	if err != nil {
		return usagef("%v", err)
	}
	g, err := lesson.Diagnose(d, reports)
	if err != nil {
		return usagef("%v", err)
	}
	if !g.Failed() {
		return usagef("nothing failed in %s up to %.4g beats a minute: there is nothing to mend yet, play faster first", number(g.Runs, "run"), g.Fastest)
	}
	weakest, shown := g.Weakest()
	exercises, err := lesson.Graded(g, weakest, body.Body, newest.alike.windows)
	if err != nil {
		return err
	}
	h := homeworkOf(g, weakest, exercises, newest.alike.player)
	if c.Out != "" {
		if err := c.write(a, h, g, exercises, shown); err != nil {
			return err
		}
	}
	w := bufio.NewWriter(a.stdout)
	if c.JSON {
		err = writeJSON(w, h)
	} else {
		printDiagnosis(w, g, weakest, shown)
		fmt.Fprintf(w, "%s: homework.txt to print, three drills, homework.json for heeltoe lesson compare\n", c.Out)
	}
	if err != nil {
		return err
	}
	return w.Flush()
}

// most gives the word that was counted most often, the first of equals in the alphabet.
func most(count map[string]int) string {
	best := ""
	for word, n := range count {
		if n > count[best] || n == count[best] && word < best {
			best = word
		}
	}
	return best
}

func homeworkOf(g *lesson.Diagnosis, landing int, exercises []lesson.Exercise, player string) *lesson.Homework {
	l := &g.Landings[landing]
	h := &lesson.Homework{Heeltoe: "homework", Version: lesson.HomeworkVersion, Given: time.Now().UTC().Truncate(time.Second), Player: player,
		Drill: g.Drill.Spec, Landing: landing, Name: g.Name(landing), First: l.First,
		Before: lesson.Before{Runs: g.Runs, Landing: lesson.TrialsOf(l.Trials), Whole: lesson.TrialsOf(g.Whole)}}
	for i, e := range exercises {
		h.Exercises = append(h.Exercises, lesson.Given{File: fmt.Sprintf("%d-%s.toml", i+1, e.Name), Name: e.Name, Why: e.Why,
			BPM: e.Drill.BPM, Reps: e.Drill.Reps, Sets: e.Sets})
	}
	return h
}

// write writes the folder.
func (c *lessonGiveCmd) write(a *app, h *lesson.Homework, g *lesson.Diagnosis, exercises []lesson.Exercise, shown bool) error {
	if err := os.MkdirAll(c.Out, 0o755); err != nil {
		return err
	}
	put := func(name string, text []byte) error {
		return a.writeFile(filepath.Join(c.Out, name), c.Force, func(w io.Writer) error {
			_, err := w.Write(text)
			return err
		})
	}
	for i, e := range exercises {
		text, err := e.Drill.MarshalTOML()
		if err == nil {
			err = put(h.Exercises[i].File, text)
		}
		if err != nil {
			return err
		}
	}
	var sheet bytes.Buffer
	printHomework(&sheet, h, g, exercises, shown)
	if err := put("homework.txt", sheet.Bytes()); err != nil {
		return err
	}
	text, err := json.MarshalIndent(h, "", "  ")
	if err != nil {
		return err
	}
	return put("homework.json", append(text, '\n'))
}

// printDiagnosis prints how each landing went.
func printDiagnosis(w io.Writer, g *lesson.Diagnosis, weakest int, shown bool) {
	fmt.Fprintf(w, "%s, %s, %.4g to %.4g beats a minute; footing %s\n\n", g.Drill.Name, number(g.Runs, "run"), g.Slowest, g.Fastest, g.Drill.Spec.Footing)
	columns(w, fmt.Sprintf("landing\tgood reps\tlimit, beats a minute (%.0f %% good)\tbreaks first, p", 100*lesson.Share), func(row func(...any)) {
		for i := range g.Landings {
			l := &g.Landings[i]
			good, n := 0, 0
			for _, t := range l.Trials {
				good, n = good+t.Good, n+t.N
			}
			limit := fmt.Sprintf("%.1f (%.1f to %.1f)", l.Limit.Value, l.Limit.Low, l.Limit.High)
			if l.Why != nil {
				limit = l.Why.Error()
			}
			row(g.Name(i), fmt.Sprintf("%d of %d", good, n), limit, fmt.Sprintf("%.2f", l.First))
		}
	})
	fmt.Fprintln(w, firstText(g, weakest, shown))
}

func firstText(g *lesson.Diagnosis, weakest int, shown bool) string {
	if shown {
		return fmt.Sprintf("The first to break is %s, p %.2f.", g.Name(weakest), g.Landings[weakest].First)
	}
	return fmt.Sprintf("No landing is shown to break first; the likeliest is %s, p %.2f. More runs, at tempi about the limit, tell more.", g.Name(weakest), g.Landings[weakest].First)
}

// printHomework writes the sheet that a pupil takes home.
func printHomework(w io.Writer, h *lesson.Homework, g *lesson.Diagnosis, exercises []lesson.Exercise, shown bool) {
	who := ""
	if h.Player != "" {
		who = " for " + h.Player
	}
	fmt.Fprintf(w, "Homework%s, given on %s: %s\n\n%s\n\n", who, h.Given.Local().Format(time.DateOnly), g.Drill.Name, firstText(g, h.Landing, shown))
	for i, e := range exercises {
		d := e.Drill
		fmt.Fprintf(w, "%d. %s: %s.\n   %d times %d reps at %g beats a minute, with a rest after each\n   steps    %s\n   footing  %s\n   heeltoe live %s\n   heeltoe plan %s --pictures %s\n\n",
			i+1, e.Name, e.Why, e.Sets, d.Reps, d.BPM, d.Steps, d.Spec.Footing, "./"+h.Exercises[i].File, "./"+h.Exercises[i].File, e.Name)
	}
	fmt.Fprintf(w, "Play %s at several tempi in a week, then: heeltoe lesson compare homework.json\n\n%s\n", g.Drill.Name, view.CautionLong)
}

type lessonCompareCmd struct {
	Homework string   `arg:"" help:"The homework.json that lesson give wrote."`
	Runs     []string `arg:"" optional:"" name:"run" help:"Run logs since then, each ending in .jsonl; those of the history unless given."`
	Share    float64  `default:"0.8" help:"Share of good reps at the limits, 0.5 to 0.95."`
	JSON     bool     `name:"json" help:"Print one JSON object."`
}

// Help is shown by lesson compare --help.
func (c *lessonCompareCmd) Help() string {
	return `Compares the reps before the homework with those since: the tempo at which the landing, and the
whole drill, is good in so many of the reps. The answer is the difference with its interval, or that no
difference is shown. From the history it takes the runs of the drill by the pupil that were begun
after the homework was given; their number and their tempi should be like those before.`
}

// Run compares.
func (c *lessonCompareCmd) Run(a *app) error {
	if err := checkShare(c.Share); err != nil {
		return err
	}
	h, d, err := lesson.ReadHomework(c.Homework)
	if err != nil {
		return err
	}
	reports, err := c.since(a, h, d)
	if err != nil {
		return err
	}
	g, err := lesson.Diagnose(d, reports)
	if err != nil {
		return usagef("%v", err)
	}
	landing := lesson.Compare(lesson.Played(h.Before.Landing), g.Landings[h.Landing].Trials, c.Share)
	whole := lesson.Compare(lesson.Played(h.Before.Whole), g.Whole, c.Share)
	w := bufio.NewWriter(a.stdout)
	if c.JSON {
		err = writeJSON(w, map[string]any{"drill": d.Name, "landing": h.Name, "given": h.Given, "runs_before": h.Before.Runs, "runs_since": len(reports),
			"landing_limit": changeJSON(&landing), "whole_limit": changeJSON(&whole)})
	} else {
		fmt.Fprintf(w, "%s: %s until the homework of %s, %s since\n", d.Name, number(h.Before.Runs, "run"), h.Given.Local().Format(time.DateOnly), number(len(reports), "run"))
		printChange(w, h.Name, &landing)
		printChange(w, "the whole drill", &whole)
	}
	if err != nil {
		return err
	}
	return w.Flush()
}

// since gives the reports of the runs since the homework.
func (c *lessonCompareCmd) since(a *app, h *lesson.Homework, d *drill.Drill) ([]*view.Report, error) {
	var out []*view.Report
	key, _ := store.Keys(d)
	if len(c.Runs) > 0 {
		runs, err := look(a, c.Runs, anew)
		if err != nil {
			return nil, err
		}
		for i, r := range runs {
			if r.key != key {
				return nil, usagef("%s is a run of %s, the homework is for %s", c.Runs[i], r.drill.Name, d.Name)
			}
			if r.report != nil {
				out = append(out, r.report)
			}
		}
		return out, nil
	}
	x, err := a.history()
	if err != nil {
		return nil, err
	}
	defer x.Close()
	rows, err := x.Runs(a.ctx, store.Filter{Drill: key, Player: h.Player})
	if err != nil {
		return nil, err
	}
	for _, r := range rows {
		if r.Drill != key || r.Player != h.Player || !r.Started.After(h.Given) || r.WarmUp {
			continue
		}
		rep, err := practice.RecallIn(a.ctx, x, x.File(r.Log))
		if err != nil {
			return nil, err
		}
		out = append(out, rep)
	}
	if len(out) == 0 {
		return nil, usagef("no run of %s has been begun since the homework was given", d.Name)
	}
	return out, nil
}

// printChange prints what became of a limit.
func printChange(w io.Writer, what string, c *lesson.Change) {
	switch {
	case c.Why != nil:
		fmt.Fprintf(w, "%s: cannot be compared: %v.\n", what, c.Why)
	case !c.Shown():
		fmt.Fprintf(w, "%s: no difference shown: %s (n %d reps).\n", what, changeText(c), c.Difference.N)
	default:
		fmt.Fprintf(w, "%s: the limit moved by %s (n %d reps).\n", what, changeText(c), c.Difference.N)
	}
}

func changeText(c *lesson.Change) string {
	text := openText(c.Difference, 1, "%+.1f") + " beats a minute"
	if c.BeforeWhy == nil && c.AfterWhy == nil {
		text += fmt.Sprintf(", from %.1f to %.1f", c.Before.Value, c.After.Value)
	}
	return text
}

// changeFile is a change as lesson compare --json prints it.
type changeFile struct {
	Before     gapFile `json:"before_bpm"`
	After      gapFile `json:"after_bpm"`
	Difference gapFile `json:"difference_bpm"`
	Shown      bool    `json:"shown"`
}

func changeJSON(c *lesson.Change) changeFile {
	return changeFile{gapOf(c.Before, c.BeforeWhy), gapOf(c.After, c.AfterWhy), gapOf(c.Difference, c.Why), c.Shown()}
}
