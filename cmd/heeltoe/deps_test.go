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
	"footing/read":        {"footing", "footing/pad", "footing/read/chain", "judge", "judge/drill"},
	"footing/read/chain":  {},
	"footing/read/walker": {"footing", "footing/pad", "judge/drill"}, // plays for tests alone
	"input":               {"footing/pad"},
	"input/record":        {"footing/pad", "input", "judge/drill"},
	"input/usb":           {"footing/pad", "input"},
	"input/usb/bench":     {"footing/pad", "input"},
	"input/evdev":         {"footing/pad", "input"},
	"input/synth":         {"footing/pad", "footing", "judge/drill"},
	"trainer":             {"footing/pad", "footing", "footing/read", "judge", "judge/drill", "trainer/standing", "trainer/view"},
	"trainer/standing":    {"footing/pad", "judge/drill", "trainer/trend", "trainer/view"},
	"trainer/view":        {"footing/pad"},
	"trainer/profile":     {"footing", "footing/pad", "input", "judge/drill", "judge/drill/tomldoc", "trainer/filename"},
	"trainer/filename":    {},
	"trainer/padcheck":    {"footing/pad", "trainer/view"},
	"trainer/drills":      {"footing/pad", "judge/drill"},
	"trainer/labels":      {"footing/read", "judge/drill", "judge/drill/tomldoc"},
	"trainer/capture":     {"footing/pad", "judge/drill"},
	"trainer/sheet":       {"footing", "footing/pad", "judge/drill", "trainer/view"},
	"trainer/progress":    {"trainer/adapt", "trainer/estimate", "trainer/limits", "trainer/recovery", "trainer/store", "trainer/trend", "trainer/view"},
	"trainer/limits":      {"trainer/adapt", "trainer/estimate", "trainer/stamina", "trainer/success", "trainer/view"},
	"trainer/metrics":     {},
	"trainer/played":      {"footing/pad", "input/record", "judge", "judge/drill", "trainer/consistency", "trainer/view"},
	"trainer/store":       {"footing/pad", "input/record", "judge", "judge/drill", "trainer", "trainer/filename", "trainer/view"},
	"trainer/store/storetest": {"footing", "footing/pad", "input/record", "input/synth", "judge/drill", "trainer/adapt", "trainer/drills", "trainer/limits",
		"trainer/store", "trainer/success"},
	"trainer/estimate": {},
	"trainer/trend":    {"trainer/estimate"},
	"trainer/timing":   {"footing/pad", "trainer/estimate"},
	"trainer/success":  {"trainer/estimate"},
	"trainer/adapt":    {"footing/pad", "trainer/estimate", "trainer/success"},
	"trainer/stamina":  {"trainer/estimate", "trainer/trend"},
	"trainer/sides":    {"footing/pad", "trainer/estimate", "trainer/success", "trainer/view"},
	"trainer/plateau":  {"trainer/estimate", "trainer/success", "trainer/trend"},
	"trainer/lesson":   {"footing", "footing/pad", "judge/drill", "trainer/estimate", "trainer/success", "trainer/view"},
	"trainer/evening":  {"footing", "footing/pad", "judge/drill", "trainer/adapt", "trainer/drills", "trainer/stamina", "trainer/store", "trainer/view"},
	"trainer/recovery": {"trainer/estimate", "trainer/trend"},
	"trainer/consistency": {"footing/pad", "judge", "judge/drill", "trainer/click", "trainer/estimate", "trainer/stamina",
		"trainer/timing", "trainer/view"},
	"trainer/internal/outside": {},
	"trainer/click":            {"footing/pad", "judge/drill"},
	"trainer/practice": {"footing", "footing/pad", "footing/read", "input", "input/evdev", "input/record", "input/synth", "input/usb", "judge", "judge/drill", "trainer",
		"trainer/click", "trainer/drills", "trainer/live", "trainer/profile", "trainer/store", "trainer/view"},
	"trainer/turns": {},
	"trainer/live": {"footing/pad", "footing", "footing/read", "input", "input/record", "judge", "judge/drill", "trainer", "trainer/turns",
		"trainer/view"},
	"render":       {"footing/pad", "trainer/view"},
	"render/sound": {"footing/pad", "trainer/click"},
	"trainer/desk": {"footing/pad", "input", "judge/drill", "trainer/click", "trainer/drills", "trainer/live", "trainer/practice",
		"trainer/profile", "trainer/view"},
	"render/pdf":               {"render"},
	"render/page":              {"footing/pad", "render", "trainer/view"},
	"render/window":            {"render", "trainer/turns"},
	"cmd/heeltoe-window":       {"*"},
	"cmd/heeltoe-window/guard": {},
	"cmd/internal/monitor":     {"footing/pad", "input", "input/record", "judge", "judge/drill", "trainer/live", "trainer/metrics", "trainer/practice"},
	"cmd/internal/metronome":   {"footing/pad", "input", "judge/drill", "render/sound", "trainer/click", "trainer/practice"},
	"cmd/heeltoe":              {"*"},
}

// owners are the only packages that may import a library of the outside.
var owners = map[string]string{
	"codeberg.org/go-pdf/fpdf":                       "render/pdf",
	"github.com/karalabe/hid":                        "input/usb",
	"github.com/parquet-go/parquet-go":               "cmd/heeltoe",
	"github.com/prometheus/client_golang/prometheus": "trainer/metrics",
	"modernc.org/sqlite":                             "trainer/store",
	"github.com/ebitengine/oto/v3":                   "render/sound",
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
