package main

import (
	"fmt"
	"io"
	"path/filepath"

	"heeltoe/footing/read"
	"heeltoe/trainer/practice"
	"heeltoe/trainer/profile"
)

// own fits, forgets or shows the own parameters of the run's player.
func (c *labelCmd) own(w io.Writer, labels []string) error {
	name, err := practice.PlayerOf(c.Log)
	if err != nil {
		return err
	}
	p, err := profile.LoadPlayer(name)
	if err != nil {
		return err
	}
	run := filepath.Base(c.Log)
	switch {
	case c.Fit:
		fit, err := practice.Learn(c.Log, labels)
		if err != nil {
			return err
		}
		if fit.Reps == 0 {
			return usagef("no rep of %s has a label that says a technique: label some first, 1-4=roll", run)
		}
		p.Learn(fit)
	case c.Forget:
		if !p.Forget(run) {
			return usagef("nothing was fitted to %s", run)
		}
	}
	if !c.Own {
		file, err := profile.SavePlayer(p)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "Kept in %s.\n", file)
	}
	printOwn(w, p)
	return nil
}

// printOwn prints a player's own parameters beside those of anybody.
func printOwn(w io.Writer, p *profile.Player) {
	if len(p.Fits) == 0 {
		fmt.Fprintln(w, "No labelled run was fitted: the player's feet are read as anybody's.")
		return
	}
	for _, f := range p.Fits {
		fmt.Fprintf(w, "fitted to %d reps of %s\n", f.Reps, f.Run)
	}
	fmt.Fprintln(w)
	own := practice.OwnOf(p)
	table(w, "parameter unit anybody own", func(row func(...any)) {
		for _, prior := range read.Priors[:read.PanelDwell] {
			if v, ok := own[prior.Name]; ok {
				anybody, unit := prior.Shown(prior.Usual())
				own, _ := prior.Shown(v)
				row(prior.Name, unit, fmt.Sprintf("%.3g", anybody), fmt.Sprintf("%.3g", own))
			}
		}
	})
}
