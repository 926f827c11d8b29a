package main

import (
	"bufio"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"heeltoe/trainer/labels"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/view"
)

type labelCmd struct {
	Log    string   `arg:"" name:"run" help:"Run log to label."`
	Reps   []string `arg:"" optional:"" name:"reps" help:"Labels, such as 1-4=roll 5=unsure 6=mash; an empty label, 3=, takes one back."`
	Fit    bool     `help:"Fit the player's own parameters to the labels of this run, beside those of other runs that were fitted, and keep them in the player's file. From then on the player's runs are read by them." xor:"own"`
	Forget bool     `help:"Take back what was fitted to this run." xor:"own"`
	Own    bool     `help:"Print the player's own parameters." xor:"own"`
	By     string   `help:"Who saw it: teacher, video, or a name. Not the player, who knows what was meant and not what the feet did."`
}

// Help is shown by label --help.
func (c *labelCmd) Help() string {
	return `Keeps what an observer saw of a run's reps, beside its log: how often the reading of feet is right
is found out with such runs (heeltoe review RUN --check). Without labels it prints those that there are.

    labels      ` + strings.Join(labels.Words, ", ") + `
    to share    the log and the file of its labels, which has the log's name, go together
    --fit       feet differ: how long they stay, how they hand over, how long a swing takes. What labelled
                runs tell of a player is kept in the player's file; --own prints it, --forget takes it back`
}

// Run labels the reps and prints all labels.
func (c *labelCmd) Run(a *app) error {
	rep, err := practice.Review(c.Log)
	if err != nil {
		return err
	}
	l, err := labels.Read(c.Log)
	if err != nil {
		return err
	}
	for _, arg := range c.Reps {
		from, to, word, err := parseLabel(arg, len(rep.Reps))
		if err != nil {
			return err
		}
		l.Set(from, to, len(rep.Reps), word)
	}
	if c.By != "" {
		l.By = c.By
	}
	if len(c.Reps) > 0 || c.By != "" {
		if err := l.Write(c.Log); err != nil {
			return err
		}
	}
	w := bufio.NewWriter(a.stdout)
	if c.Fit || c.Forget || c.Own {
		if err := c.own(w, l.Reps); err != nil {
			return err
		}
		return w.Flush()
	}
	table(w, "rep label", func(row func(...any)) {
		for i, word := range l.Reps {
			if word == "" {
				word = "–"
			}
			row(i+1, word)
		}
	})
	return w.Flush()
}

// parseLabel reads one argument: a rep or a first and a last one, =, a label. Reps are
// counted from 1 there, from 0 in what it gives.
func parseLabel(arg string, reps int) (from, to int, word string, err error) {
	which, word, ok := strings.Cut(arg, "=")
	first, last, ranged := strings.Cut(which, "-")
	if !ranged {
		last = first
	}
	from, e1 := strconv.Atoi(first)
	to, e2 := strconv.Atoi(last)
	switch {
	case !ok || e1 != nil || e2 != nil:
		return 0, 0, "", usagef("%q is not a label: write 3=roll, or 1-4=roll", arg)
	case from < 1 || to < from || to > reps:
		return 0, 0, "", usagef("%q: the run has reps 1 to %d", arg, reps)
	case word != "" && !slices.Contains(labels.Words, word):
		return 0, 0, "", usagef("%q is none of %s", word, strings.Join(labels.Words, ", "))
	}
	return from - 1, to - 1, word, nil
}

// printCheck prints how often the reading agrees with the labels of the log.
func printCheck(w io.Writer, r *view.Report, l *labels.Labels) {
	techniques, p := make([]string, len(r.Reps)), make([]float64, len(r.Reps))
	for i := range r.Reps {
		techniques[i], p[i] = r.Reps[i].Technique, float64(r.Reps[i].P)
	}
	c := l.Compare(techniques, p)
	by := l.By
	if by == "" {
		by = "somebody who is not named"
	}
	if c.Sure == 0 {
		fmt.Fprintf(w, "No rep has a label that says a technique (heeltoe label RUN 1-4=roll); unsure of %d.\n", c.Unsure)
		return
	}
	fmt.Fprintf(w, "labels     by %s: %d reps, unsure of %d more\n", by, c.Sure, c.Unsure)
	fmt.Fprintf(w, "reading    right in %d of %d (%s), unclear in %d\n", c.Right, c.Sure, share(c.Right, c.Sure), c.Unclear)
	fmt.Fprintf(w, "confident  %d with p of 0.95 and more, %d of them wrong\n\n", c.Confident, c.WrongOfThem)
	keys := make([][2]string, 0, len(c.Read))
	for k := range c.Read {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b [2]string) int { return slices.Compare(a[:], b[:]) })
	table(w, "label read-as reps", func(row func(...any)) {
		for _, k := range keys {
			row(k[0], k[1], c.Read[k])
		}
	})
}
