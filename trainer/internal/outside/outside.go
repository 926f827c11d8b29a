// Package outside brings to tests what they compare with from outside the project:
// scipy and the folder of open data. Only tests import it.
package outside

import (
	"bytes"
	"compress/gzip"
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// python is Debian's own interpreter, for which python3-scipy is installed.
const python = "/usr/bin/python3"

// Scipy runs testdata/scipy/statistics.py, found up from the test's folder, on
// job as JSON and reads its answer into answer. Without scipy the test is skipped, or
// fails where HEELTOE_STRICT or CI is set.
func Scipy(t testing.TB, job, answer any) {
	t.Helper()
	if exec.Command(python, "-c", "import scipy").Run() != nil {
		if os.Getenv("CI") != "" || os.Getenv("HEELTOE_STRICT") != "" {
			t.Fatal("python3-scipy is missing; make test installs it")
		}
		t.Skip("not run: python3-scipy is missing; make test installs it")
	}
	in, err := json.Marshal(job)
	if err != nil {
		t.Fatal(err)
	}
	root := "."
	for range 5 {
		if _, err := os.Stat(filepath.Join(root, "go.mod")); err == nil {
			break
		}
		root = filepath.Join(root, "..")
	}
	cmd := exec.Command(python, filepath.Join(root, "testdata", "scipy", "statistics.py"))
	cmd.Stdin, cmd.Stderr = bytes.NewReader(in), os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(out, answer); err != nil {
		t.Fatalf("scipy answered %.200q: %v", out, err)
	}
}

// Data opens a file of the folder of open data that HEELTOE_DATA names, unpacked
// where it ends in .gz. Without the folder the test says that it did not run.
func Data(t testing.TB, name ...string) io.Reader {
	t.Helper()
	dir := os.Getenv("HEELTOE_DATA")
	if dir == "" {
		t.Skip("not run: HEELTOE_DATA names no folder of open data")
	}
	f, err := os.Open(filepath.Join(append([]string{dir}, name...)...))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	if !strings.HasSuffix(f.Name(), ".gz") {
		return f
	}
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// Rows reads a CSV table as maps by its head.
func Rows(t testing.TB, r io.Reader) []map[string]string {
	t.Helper()
	all, err := csv.NewReader(r).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, line := range all[1:] {
		row := make(map[string]string, len(line))
		for i, v := range line {
			row[all[0][i]] = v
		}
		out = append(out, row)
	}
	return out
}

// Number reads a number.
func Number(t testing.TB, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Near fails where got is farther from want than tolerance.
func Near(t testing.TB, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %v, want %v ± %v", what, got, want, tolerance)
	}
}
