// Package store knows where the runs of a player are kept.
package store

import (
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/adrg/xdg"
)

// RunsDir gives the folder of run logs, in the XDG data folder.
func RunsDir() string {
	xdg.Reload()
	return filepath.Join(xdg.DataHome, "heeltoe", "runs")
}

// NewRunPath gives a file name for a run begun at the moment given: by year,
// then date, time and the drill's name in letters that every file system takes.
func NewRunPath(drill string, started time.Time) string {
	t := started.UTC()
	return filepath.Join(RunsDir(), t.Format("2006"),
		fmt.Sprintf("%s-%03d-%s.jsonl", t.Format("20060102T150405Z"), t.Nanosecond()/1e6, Slug(drill)))
}

// Slug gives name in lower-case letters, digits and single hyphens, at most 40 of them.
func Slug(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() == 40 {
			break
		}
	}
	if s := strings.Trim(b.String(), "-"); s != "" {
		return s
	}
	return "drill"
}
