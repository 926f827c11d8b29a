package main

import (
	"strings"

	"heeltoe/trainer/store"
)

// files gives the logs that limits looks at: those that are named, and of a drill that is
// named the newest runs of the history, in its own form alone and not mirrored, without those that were a warm-up.
func (c *limitsCmd) files(a *app) ([]string, error) {
	if c.Last < 1 {
		return nil, usagef("--last: %d runs are none", c.Last)
	}
	var files []string
	for _, name := range c.Logs {
		if strings.HasSuffix(name, ".jsonl") {
			files = append(files, name)
			continue
		}
		kept, err := c.kept(a, name)
		if err != nil {
			return nil, err
		}
		files = append(files, kept...)
	}
	return files, nil
}

// kept gives the logs of the newest runs of a drill.
func (c *limitsCmd) kept(a *app, name string) ([]string, error) {
	x, err := a.history()
	if err != nil {
		return nil, err
	}
	defer x.Close()
	key, err := findDrill(a, x, name, false, false)
	if err != nil {
		return nil, err
	}
	files, err := keptLogs(a, x, store.Filter{Drill: key, Player: c.Player}, c.Last, func(r *store.Run) bool { return r.Drill == key && !r.WarmUp })
	if err == nil && len(files) == 0 {
		err = usagef("there is no run of %s yet: heeltoe live %s --adapt looks for its tempo", name, name)
	}
	return files, err
}
