// Package filename says where the program's files lie, and makes names of files of what
// people call things: in letters that every file system takes.
package filename

import (
	"os"
	"path/filepath"
	"strings"
)

// MaxBytes is the longest name, without its suffix.
const MaxBytes = 48

// Of gives name in lower-case letters, digits and single hyphens, at most MaxBytes of
// them, and otherwise where nothing is left of it. Of gives back what it gave.
func Of(name, otherwise string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() == MaxBytes {
			break
		}
	}
	if s := strings.TrimSuffix(b.String(), "-"); s != "" {
		return s
	}
	return otherwise
}

// Folder gives the program's folder within the one that an environment variable names, or where
// that is unset or not absolute within the usual one. The variable is read now: a test, or a script, may set it.
func Folder(variable, usual string) string {
	home := os.Getenv(variable)
	if !filepath.IsAbs(home) {
		home = usual
	}
	return filepath.Join(home, "heeltoe")
}
