package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// The scripts of testdata/script use the program as people do at a terminal: each in a
// folder of its own, with no settings and no runs.
func TestScripts(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join("testdata", "script"),
		Setup: func(env *testscript.Env) error {
			bin := filepath.Join(env.WorkDir, "bin")
			if err := os.Mkdir(bin, 0o755); err != nil {
				return err
			}
			env.Setenv("PATH", bin+string(os.PathListSeparator)+env.Getenv("PATH"))
			env.Setenv(asProgram, "1")
			env.Setenv("XDG_CONFIG_HOME", filepath.Join(env.WorkDir, ".config"))
			env.Setenv("XDG_DATA_HOME", filepath.Join(env.WorkDir, ".data"))
			return os.Symlink(self, filepath.Join(bin, "heeltoe"))
		},
	})
}
