package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// imports is the table of what each package may import of the project's own,
// tests left out. It is the architecture: a line is changed only with a reason.
var imports = map[string][]string{
	"footing/pad":         {},
	"judge/drill/tomldoc": {"footing/pad"},
	"judge/drill":         {"footing/pad", "judge/drill/tomldoc"},
	"judge":               {"footing/pad", "judge/drill"},
	"footing":             {"footing/pad", "judge/drill", "judge"},
	"input":               {"footing/pad"},
	"input/record":        {"footing/pad", "input", "judge/drill"},
	"input/usb":           {"footing/pad", "input"},
	"input/synth":         {"footing/pad", "footing", "judge/drill"},
	"trainer":             {"footing/pad", "footing", "judge", "judge/drill", "trainer/view"},
	"trainer/view":        {"footing/pad"},
	"trainer/profile":     {"footing/pad", "input", "judge/drill/tomldoc"},
	"trainer/drills":      {"footing/pad", "judge/drill"},
	"trainer/capture":     {"footing/pad", "judge/drill"},
	"trainer/store":       {},
	"trainer/live":        {"footing/pad", "footing", "input", "input/record", "judge", "judge/drill", "trainer", "trainer/view"},
	"cmd/heeltoe":         {"*"},
}

// owners are the only packages that may import a library of the outside.
var owners = map[string]string{
	"github.com/karalabe/hid": "input/usb",
}

func TestImportTable(t *testing.T) {
	out, err := exec.Command("go", "list", "-json=ImportPath,Imports", "heeltoe/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for dec := json.NewDecoder(bytes.NewReader(out)); ; {
		var p struct {
			ImportPath string
			Imports    []string
		}
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		name := strings.TrimPrefix(p.ImportPath, "heeltoe/")
		may, ok := imports[name]
		if !ok {
			t.Errorf("package %s is not in the table of imports", name)
			continue
		}
		seen++
		for _, i := range p.Imports {
			if owner, ok := owners[i]; ok && owner != name {
				t.Errorf("%s imports %s, which only %s may", name, i, owner)
			}
			own, ok := strings.CutPrefix(i, "heeltoe/")
			if ok && !slices.Contains(may, own) && !slices.Contains(may, "*") {
				t.Errorf("%s imports %s, which the table does not allow", name, own)
			}
			if name == "footing/pad" && strings.Contains(strings.Split(i, "/")[0], ".") {
				t.Errorf("footing/pad imports %s: it takes the standard library only", i)
			}
		}
	}
	if seen != len(imports) {
		t.Errorf("%d packages were found, the table has %d", seen, len(imports))
	}
}
