package judge_test

import (
	"encoding/json"
	"math"
	"math/big"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"heeltoe/footing/pad"
	"heeltoe/judge"
	"heeltoe/judge/drill"
)

// Certified means and standard deviations of NIST's Statistical Reference
// Datasets, the hard ones too. The values stand in testdata/nist with their
// source. The NumAcc sets and the digits of pi are made here by their
// definitions; the measured sets are read from the folder of open data that
// HEELTOE_DATA names.
func TestSummaryAgainstNIST(t *testing.T) {
	text, err := os.ReadFile("../testdata/nist/univariate.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Sets []struct {
			Name     string
			Scale    int64
			N        int
			Mean, SD string
		}
	}
	if err := json.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	for _, s := range file.Sets {
		t.Run(s.Name, func(t *testing.T) {
			x := nistData(t, s.Name, s.Scale)
			if len(x) != s.N {
				t.Fatalf("%d observations, NIST has %d", len(x), s.N)
			}
			got := judge.Summarise(x)
			for _, c := range []struct {
				what, want string
				got        float64
			}{{"mean", s.Mean, got.Mean}, {"sd", s.SD, got.SD}} {
				want, err := strconv.ParseFloat(c.want, 64)
				if err != nil {
					t.Fatal(err)
				}
				v := c.got / float64(s.Scale)
				if lre := -math.Log10(math.Abs(v-want) / math.Abs(want)); lre < 14 {
					t.Errorf("%s %v agrees with the certified %s to %.1f digits, want 14", c.what, v, c.want, lre)
				}
			}
		})
	}
}

func nistData(t *testing.T, name string, scale int64) []pad.Time {
	switch name {
	case "NumAcc1":
		return []pad.Time{10000001, 10000003, 10000002}
	case "NumAcc2", "NumAcc3", "NumAcc4":
		c := map[string]pad.Time{"NumAcc2": 12, "NumAcc3": 10_000_002, "NumAcc4": 100_000_002}[name]
		x := []pad.Time{c}
		for range 500 {
			x = append(x, c-1, c+1)
		}
		return x
	case "PiDigits":
		// NIST's file, and so its certified values, has 3 where the 957th digit
		// of pi is 8.
		x := piDigits(5000)
		if x[956] != 8 {
			t.Fatalf("digit 957 of pi came out as %d", x[956])
		}
		x[956] = 3
		return x
	}
	dir := os.Getenv("HEELTOE_DATA")
	if dir == "" {
		t.Skip("not run: HEELTOE_DATA names no folder of open data")
	}
	text, err := os.ReadFile(filepath.Join(dir, "nist", "univariate", name+".dat"))
	if err != nil {
		t.Fatal(err)
	}
	var x []pad.Time
	for _, line := range strings.Split(string(text), "\n")[60:] {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		r, ok := new(big.Rat).SetString(line)
		if !ok {
			t.Fatalf("%q is no number", line)
		}
		if r.Mul(r, big.NewRat(scale, 1)); !r.IsInt() {
			t.Fatalf("%s is not whole when scaled by %d", line, scale)
		}
		x = append(x, pad.Time(r.Num().Int64()))
	}
	return x
}

// piDigits gives the first n digits of pi by Machin's formula
// pi/4 = 4 arctan(1/5) − arctan(1/239), in whole numbers.
func piDigits(n int) []pad.Time {
	one := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(n+10)), nil)
	arctan := func(inv int64) *big.Int {
		sum, term := new(big.Int), new(big.Int).Quo(one, big.NewInt(inv))
		sq, part := big.NewInt(inv*inv), new(big.Int)
		for k := int64(1); term.Sign() != 0; k += 2 {
			part.Quo(term, big.NewInt(k))
			if k%4 == 1 {
				sum.Add(sum, part)
			} else {
				sum.Sub(sum, part)
			}
			term.Quo(term, sq)
		}
		return sum
	}
	pi := new(big.Int).Mul(arctan(5), big.NewInt(16))
	pi.Sub(pi, new(big.Int).Mul(arctan(239), big.NewInt(4)))
	var x []pad.Time
	for _, c := range pi.String()[:n] {
		x = append(x, pad.Time(c-'0'))
	}
	return x
}

func TestSummaryOfFewOffsets(t *testing.T) {
	none := judge.Summarise(nil)
	if none.N != 0 || !math.IsNaN(none.Mean) || !math.IsNaN(none.SD) || !math.IsNaN(none.Median) || !math.IsNaN(none.MAD) {
		t.Errorf("of none: %+v, want NaN throughout", none)
	}
	one := judge.Summarise([]pad.Time{7})
	if one.Mean != 7 || one.Median != 7 || one.MAD != 0 || !math.IsNaN(one.SD) {
		t.Errorf("of one: %+v", one)
	}
	// Worked by hand: median 4.5, deviations 3.5 2.5 .5 .5 2.5 4.5.
	six := judge.Summarise([]pad.Time{1, 2, 4, 5, 7, 9})
	if six.Median != 4.5 || six.MAD != 2.5 {
		t.Errorf("median %v, mad %v; want 4.5, 2.5", six.Median, six.MAD)
	}
}

// R's documentation of quantile gives type 7 as the default; the values of
// 1..10 and of 1..4 are those that R prints (from memory: 3.25, 7.75; 1.75, 3.25).
func TestQuartiles(t *testing.T) {
	ten := []pad.Time{10, 9, 8, 7, 6, 5, 4, 3, 2, 1}
	if lo, hi := judge.Quartiles(ten); lo != 3.25 || hi != 7.75 {
		t.Errorf("of 1..10: %v %v, want 3.25 7.75", lo, hi)
	}
	if lo, hi := judge.Quartiles([]pad.Time{1, 2, 3, 4}); lo != 1.75 || hi != 3.25 {
		t.Errorf("of 1..4: %v %v, want 1.75 3.25", lo, hi)
	}
	if ten[0] != 10 {
		t.Error("the offsets were changed")
	}
}

// Steadiness equals a search over every shift.
func TestSteadinessEqualsSearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var x []pad.Time
		for _, v := range rapid.SliceOfN(rapid.IntRange(-40, 40), 1, 12).Draw(t, "offsets") {
			x = append(x, pad.Time(v))
		}
		b := drill.Bound{Early: -pad.Time(rapid.IntRange(0, 15).Draw(t, "early")), Late: pad.Time(rapid.IntRange(0, 15).Draw(t, "late"))}
		best, shift := -1, pad.Time(0)
		for _, s := range nearestFirst(100) {
			c := 0
			for _, o := range x {
				if b.Early <= o+s && o+s <= b.Late {
					c++
				}
			}
			if c > best {
				best, shift = c, s
			}
		}
		was := slices.Clone(x)
		share, got := judge.Steadiness(x, b)
		if got != shift || share != float64(best)/float64(len(x)) {
			t.Fatalf("offsets %v bound %v: share %v at %d, want %d/%d at %d", x, b, share, got, best, len(x), shift)
		}
		if !slices.Equal(was, x) {
			t.Fatal("the offsets were changed")
		}
	})
}

func nearestFirst(n pad.Time) []pad.Time {
	s := []pad.Time{0}
	for k := pad.Time(1); k <= n; k++ {
		s = append(s, k, -k)
	}
	return s
}
