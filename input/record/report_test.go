package record_test

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"
	"time"

	"heeltoe/footing/pad"
	"heeltoe/input"
	"heeltoe/input/record"
)

const reportHeader = `{"heeltoe":"reports","version":1,"layout":"single","devices":[{"vendor":"1209","product":"0001","interface":0}]}` + "\n"

// readAll reads a whole recording.
func readAll(text string) (lines []record.ReportLine, warnings []string, err error) {
	rr, err := record.NewReportReader("r.jsonl", strings.NewReader(text))
	if err != nil {
		return nil, nil, err
	}
	for {
		l, err := rr.Next()
		if err == io.EOF {
			return lines, rr.Warnings, nil
		}
		if err != nil {
			return lines, rr.Warnings, err
		}
		l.Bytes = bytes.Clone(l.Bytes)
		lines = append(lines, l)
	}
}

func TestReportFaults(t *testing.T) {
	for _, c := range []struct {
		name, text string
		line, col  int
		says       string
	}{
		{"empty", "", 1, 1, "empty"},
		{"no JSON", "hello\n", 1, 1, "JSON"},
		{"another kind", `{"heeltoe":"run","version":1}` + "\n", 1, 12, `has "reports"`},
		{"no kind", `{"version":1,"devices":[]}` + "\n", 1, 1, `lacks "heeltoe":"reports"`},
		{"another version", `{"heeltoe":"reports","version":2,"devices":[]}` + "\n", 1, 32, "version 2"},
		{"no version", `{"heeltoe":"reports","devices":[]}` + "\n", 1, 1, `lacks "version"`},
		{"no devices", `{"heeltoe":"reports","version":1}` + "\n", 1, 1, `lacks "devices"`},
		{"empty devices", `{"heeltoe":"reports","version":1,"devices":[]}` + "\n", 1, 44, "no device"},
		{"devices no array", `{"heeltoe":"reports","version":1,"devices":{}}` + "\n", 1, 44, "not an array"},
		{"device no object", `{"heeltoe":"reports","version":1,"devices":[ 7]}` + "\n", 1, 46, "not an object"},
		{"three devices", `{"heeltoe":"reports","version":1,"devices":[{"vendor":"0001","product":"0001"},{"vendor":"0001","product":"0001"},{}]}` + "\n", 1, 115, "more than 2"},
		{"no product", `{"heeltoe":"reports","version":1,"devices":[{"vendor":"1209"}]}` + "\n", 1, 45, `lacks "product"`},
		{"upper case", `{"heeltoe":"reports","version":1,"devices":[{"vendor":"120A","product":"0001"}]}` + "\n", 1, 55, "four hexadecimal digits"},
		{"bad descriptor", `{"heeltoe":"reports","version":1,"devices":[{"vendor":"1209","product":"0001","descriptor":"0x"}]}` + "\n", 1, 92, "descriptor"},
		{"unknown layout", `{"heeltoe":"reports","version":1,"layout":"round","devices":[]}` + "\n", 1, 43, "round"},
		{"header cut", `{"heeltoe":"reports","version":1,"dev`, 1, 38, "breaks off"},
		{"key twice", `{"heeltoe":"reports","heeltoe":"reports"}` + "\n", 1, 22, "duplicate"},

		{"unknown key", reportHeader + `{"t":0,"device":0,"bytes":"00","x":1}` + "\n", 2, 36, `unknown key "x"`},
		{"time back", reportHeader + `{"t":5,"device":0,"bytes":"00"}` + "\n" + `{"device":0,"bytes":"00","t":4}` + "\n", 3, 30, "from 5 to 4"},
		{"time a fraction", reportHeader + `{"t":0.5,"device":0,"bytes":"00"}` + "\n", 2, 6, "whole number"},
		{"time negative", reportHeader + `{"t":-1,"device":0,"bytes":"00"}` + "\n", 2, 6, "whole number"},
		{"no such device", reportHeader + `{"t":0,"device":1,"bytes":"00"}` + "\n", 2, 17, "from 0 to 0"},
		{"odd hex", reportHeader + `{"t":0,"device":0,"bytes":"000"}` + "\n", 2, 27, "hexadecimal"},
		{"upper hex", reportHeader + `{"t":0,"device":0,"bytes":"0F"}` + "\n", 2, 27, "lower case"},
		{"no bytes", reportHeader + `{"t":0,"device":0}` + "\n", 2, 1, `"bytes" is missing`},
		{"no time", reportHeader + `{"device":0,"bytes":""}` + "\n", 2, 1, `"t" is missing`},
		{"phase of another layout", reportHeader + `{"t":0,"phase":"2nw"}` + "\n", 2, 16, "panel of the layout"},
		{"phase and bytes", reportHeader + `{"t":0,"phase":"nw","bytes":"00"}` + "\n", 2, 1, "no bytes"},
		{"blank line", reportHeader + "\n", 2, 1, "JSON"},
		{"broken in the middle", reportHeader + `{"t":0,"device":0,"by` + "\n" + `{"t":0,"device":0,"bytes":"00"}` + "\n", 2, 22, "JSON"},
		{"two objects", reportHeader + `{"t":0,"device":0,"bytes":"00"} {}` + "\n", 2, 33, "follows"},
		{"long line", reportHeader + `{"t":0,"device":0,"bytes":"` + strings.Repeat("0", 5000) + `"}` + "\n", 2, 4097, "longer than 4096"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := readAll(c.text)
			var b *pad.BadInput
			if !errors.As(err, &b) {
				t.Fatalf("got %v", err)
			}
			if b.File != "r.jsonl" || max(b.Line, 1) != c.line || max(b.Col, 1) != c.col || !strings.Contains(b.Msg, c.says) {
				t.Errorf("got %v, want r.jsonl:%d:%d: …%s…", err, c.line, c.col, c.says)
			}
		})
	}
}

// zeros is an endless line.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = '0'
	}
	return len(p), nil
}

// A line of 100 MB is refused by its first bytes, not read.
func TestHugeReportLines(t *testing.T) {
	for name, start := range map[string]string{"header": "", "report": reportHeader} {
		src := &counting{r: io.MultiReader(strings.NewReader(start), io.LimitReader(zeros{}, 100<<20))}
		rr, err := record.NewReportReader("r.jsonl", src)
		if err == nil {
			_, err = rr.Next()
		}
		if !pad.IsBadInput(err) || src.n > 2<<20 {
			t.Errorf("%s: %v after %d bytes", name, err, src.n)
		}
	}
}

type counting struct {
	r io.Reader
	n int
}

func (c *counting) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += n
	return n, err
}

func TestReportsCutShort(t *testing.T) {
	whole := reportHeader + `{"t":1,"device":0,"bytes":"01"}` + "\n" + `{"t":2,"device":0,"bytes":"02"}`
	// A last line that parses needs no line feed.
	if l, w, err := readAll(whole); err != nil || len(w) != 0 || len(l) != 2 || l[1].Bytes[0] != 2 {
		t.Errorf("without the last line feed: %v, %q, %v", l, w, err)
	}
	for cut := 1; cut < 30; cut++ {
		l, w, err := readAll(whole[:len(whole)-cut])
		if err != nil || len(w) != 1 || len(l) != 1 || !strings.HasPrefix(w[0], "r.jsonl:3:") || !strings.Contains(w[0], "cut short") {
			t.Errorf("cut by %d: %v, %q, %v", cut, l, w, err)
		}
	}
}

func TestUnknownHeaderKeysAreKept(t *testing.T) {
	const text = `{"heeltoe":"reports","version":1,"layout":"double","started":"2026-05-04T18:00:00Z","devices":[` +
		`{"vendor":"1209","product":"00ff","serial":"A \"7\"","interface":2,"name":"Bühne","descriptor":"0501","colour":{"a":[1, 2]}},` +
		`{"vendor":"0001","product":"0002","interface":0}],"room":"attic","n":1.50}` + "\n" +
		`{"t":0,"phase":"rest"}` + "\n" + `{"t":3,"device":1,"bytes":"00ff"}` + "\n" + `{"t":4,"device":0,"bytes":""}` + "\n"
	got, warnings, err := rewrite("r.jsonl", []byte(text))
	if err != nil || len(warnings) != 0 || string(got) != text {
		t.Errorf("written back:\n%s%v %q", got, err, warnings)
	}
	rr, err := record.NewReportReader("r.jsonl", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	d := rr.Header.Devices[0]
	if d.Identity != (input.Identity{Vendor: 0x1209, Product: 0xff, Serial: `A "7"`, Interface: 2}) || d.Name != "Bühne" ||
		!rr.Header.Started.Equal(time.Date(2026, 5, 4, 18, 0, 0, 0, time.UTC)) || len(rr.Header.Extra) != 2 {
		t.Errorf("header %+v", rr.Header)
	}
}

func TestReportWriterRefuses(t *testing.T) {
	if _, err := record.NewReportWriter(io.Discard, record.ReportHeader{}); err == nil {
		t.Error("a recording of no device was begun")
	}
	w, err := record.NewReportWriter(io.Discard, record.ReportHeader{Devices: make([]record.ReportDevice, 1)})
	if err != nil {
		t.Fatal(err)
	}
	if err := w.Report(5, 0, []byte{1}); err != nil {
		t.Fatal(err)
	}
	before := w.Buffered()
	for name, err := range map[string]error{
		"time back": w.Report(4, 0, nil), "no such device": w.Report(6, 1, nil), "phase back": w.Phase(4, "rest"),
		"too long": w.Report(6, 0, make([]byte, input.MaxReportBytes+1)),
	} {
		if err == nil {
			t.Errorf("%s was written", name)
		}
	}
	if w.Buffered() != before {
		t.Error("what was refused is in the buffer")
	}
}

// A recording is found by the identities of its devices, not by their order.
func TestScriptFindsDevicesByIdentity(t *testing.T) {
	l, r := input.Identity{Vendor: 1, Product: 2, Serial: "L"}, input.Identity{Vendor: 1, Product: 2, Serial: "R"}
	var b bytes.Buffer
	w, err := record.NewReportWriter(&b, record.ReportHeader{Devices: []record.ReportDevice{{Identity: r}, {Identity: l}}})
	if err != nil {
		t.Fatal(err)
	}
	for i, d := range []int{0, 1, 0, 1} {
		if err := w.Report(pad.Time(1000*i), d, []byte{byte(i / 2 * (1 + d))}); err != nil {
			t.Fatal(err)
		}
	}
	w.Flush()
	m := &input.Map{Layout: pad.Double, Devices: []input.Device{{Identity: l}, {Identity: r}}, Sensors: []input.Sensor{
		{Panel: 0, Device: 0, Mask: 2}, {Panel: 5, Device: 1, Mask: 1}}}
	s, err := record.NewReportScript("r.jsonl", bytes.NewReader(b.Bytes()), m)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []pad.Edge{{T: 2000, Panel: 5, Kind: pad.Down}, {T: 3000, Panel: 0, Kind: pad.Down}} {
		if e, err := s.Next(); err != nil || e != want {
			t.Errorf("edge %v, %v; want %v", e, err, want)
		}
	}
	m.Devices[1].Serial = "X"
	if _, err := record.NewReportScript("r.jsonl", bytes.NewReader(b.Bytes()), m); err == nil || !strings.Contains(err.Error(), "0001:0002:X") {
		t.Errorf("another pad's recording was taken: %v", err)
	}
}

func TestTeachWantsPhases(t *testing.T) {
	rr, err := record.NewReportReader("r.jsonl", strings.NewReader(reportHeader+`{"t":1,"device":0,"bytes":"01"}`+"\n"))
	if err != nil {
		t.Fatal(err)
	}
	err = record.TeachReports(rr, input.NewTeacher(pad.Single, 3), pad.Single)
	if !pad.IsBadInput(err) || !strings.Contains(err.Error(), "marks no phase") {
		t.Errorf("got %v", err)
	}
}

func FuzzReports(f *testing.F) {
	f.Add([]byte(reportHeader + `{"t":1,"device":0,"bytes":"01"}` + "\n" + `{"t":2,"phase":"nw"}` + "\n" + `{"t":2,"dev`))
	f.Add([]byte(`{"heeltoe":"reports","version":1,"devices":[{"vendor":"1209","product":"0001","x":[{}]}],"y":"\u00e9"}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		once, _, err := rewrite("f", text)
		if err != nil {
			if !pad.IsBadInput(err) {
				t.Fatalf("%v is no *pad.BadInput", err)
			}
			return
		}
		// What the program wrote is read and written as it is.
		twice, warnings, err := rewrite("f", once)
		if err != nil || len(warnings) > 0 || !bytes.Equal(once, twice) {
			t.Fatalf("%q became %q (%v, %q)", once, twice, err, warnings)
		}
	})
}

// BenchmarkReportScript reads and decodes a recording at 1000 Hz, a report an
// iteration: a replay in real time needs under 1 ms.
func BenchmarkReportScript(b *testing.B) {
	var buf bytes.Buffer
	w, err := record.NewReportWriter(&buf, record.ReportHeader{Devices: make([]record.ReportDevice, 1)})
	if err != nil {
		b.Fatal(err)
	}
	n := 0
	for ; n < 10000; n++ {
		w.Report(pad.Time(n)*pad.Millisecond, 0, []byte{byte(n), byte(n / 50 % 2)})
	}
	w.Flush()
	m := &input.Map{Layout: pad.Single, Devices: make([]input.Device, 1), Sensors: []input.Sensor{{Offset: 1, Mask: 1}}}
	b.ReportAllocs()
	for b.Loop() {
		s, err := record.NewReportScript("b", bytes.NewReader(buf.Bytes()), m)
		if err != nil {
			b.Fatal(err)
		}
		for {
			if _, err := s.Next(); err != nil {
				break
			}
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/report")
}
