package main

import (
	"encoding/csv"
	"flag"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"halfsplit/testdata/units"
)

var update = flag.Bool("update", false, "rewrite files of expected results")

// The sheets of the plate warmer, as they were when their numbers were compared with
// those worked out by hand (flows/circuit/expect_test.go).
func TestExpectPrintsTheSheet(t *testing.T) {
	for _, c := range []struct{ golden, args string }{
		{"expect-plate-warmer.txt", "expect plate-warmer"},
		{"expect-plate-warmer-hot.txt", "expect plate-warmer --set S1=on,th1=hot --set TH2=hot"},
		{"expect-plate-warmer-live.txt", "expect --live plate-warmer.yaml"},
		{"expect-plate-warmer-live-off.txt", "expect --live --set S1=off plate-warmer.yaml"},
	} {
		t.Run(c.golden, func(t *testing.T) {
			p, out, errs := at(t, "")
			if code := run(t.Context(), p, strings.Fields(c.args)); code != exitOK || errs.Len() > 0 {
				t.Fatalf("code %d: %s", code, errs)
			}
			path := filepath.Join("testdata", c.golden)
			if *update {
				if err := os.WriteFile(path, out.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if out.String() != string(want) {
				t.Errorf("got:\n%s\nwant:\n%s", out, want)
			}
		})
	}
}

// No line of a sheet is wider than 100 characters or breaks between number and unit.
func TestExpectFitsThePage(t *testing.T) {
	all, err := units.Library()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range all {
		for _, mode := range []string{"", "--live"} {
			p, out, errs := at(t, "")
			if code := run(t.Context(), p, strings.Fields("expect "+f.Name+" "+mode)); code != exitOK {
				t.Fatalf("%s %s: code %d: %s", f.Name, mode, code, errs)
			}
			for line := range strings.Lines(out.String()) {
				line = strings.TrimSuffix(line, "\n")
				if n := utf8.RuneCountInString(line); n > sheetWidth {
					t.Errorf("%s %s: %d characters: %s", f.Name, mode, n, line)
				}
				if strings.Contains(line, " Ω") || strings.Contains(line, "  A ") || strings.TrimRight(line, " ") != line {
					t.Errorf("%s %s: %q", f.Name, mode, line)
				}
			}
		}
	}
}

// CSV is as RFC 4180 has it: a header, CRLF, every line of as many fields, numbers plain.
func TestExpectWritesCSV(t *testing.T) {
	for _, mode := range []string{"", "--live"} {
		p, out, errs := at(t, "")
		if code := run(t.Context(), p, strings.Fields("expect plate-warmer --csv "+mode)); code != exitOK || errs.Len() > 0 {
			t.Fatalf("code %d: %s", code, errs)
		}
		if n := strings.Count(out.String(), "\n"); n != strings.Count(out.String(), "\r\n") {
			t.Errorf("%d lines, not all end with CRLF", n)
		}
		rows, err := csv.NewReader(out).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(rows[0], " "); got != "table setting what from to off low nominal high unit" {
			t.Errorf("header %q", got)
		}
		found := false
		for _, row := range rows[1:] {
			for _, x := range row[6:9] {
				if _, err := strconv.ParseFloat(x, 64); err != nil && x != "OL" || strings.ContainsAny(x, "eE") {
					t.Errorf("%v: %q is no number", row, x)
				}
			}
			switch mode {
			case "":
				// 208²/650 = 66.56 Ω, -5 and +11 %.
				found = found || strings.Join(row, "|") == "part||E1|E1:1|E1:2|its wires|63.232|66.56|73.8816|ohm"
			default:
				found = found || row[0] == "leg amps" && row[1] == "S1 on" && row[2] == "L1" && row[9] == "A"
			}
		}
		if !found || len(rows) < 20 {
			t.Errorf("%d rows, without the one looked for", len(rows))
		}
	}
}

func TestExpectCommandLine(t *testing.T) {
	bad := filepath.Join(t.TempDir(), "bad.yaml")
	if err := os.WriteFile(bad, []byte("unit: x\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	buzzes := filepath.Join(t.TempDir(), "buzzes.yaml")
	for _, m := range plantedMistakes(t) {
		if m.name == "a relay that breaks its own coil" {
			if err := os.WriteFile(buzzes, m.text, 0o600); err != nil {
				t.Fatal(err)
			}
		}
	}
	for _, c := range []struct {
		args     string
		code     int
		out, err string
	}{
		{"expect", exitUsage, "", "a word is missing"},
		{"expect a b", exitUsage, "", "one word too many"},
		{"expect plate-wormer", exitUsage, "", `there is no file "plate-wormer"`},
		{"expect plate-warmer --set S1", exitUsage, "", "is not PART=POSITION"},
		{"expect plate-warmer --set S1=up", exitUsage, "", `S1 has no position "up", it has: off, on`},
		{"expect plate-warmer --set E1=on", exitUsage, "", `no part "E1" that can be set`},
		{"expect " + bad, exitError, bad + ":1:1: ", "Nothing can be computed"},
		{"expect --live " + buzzes, exitError, "", "drops out and pulls in again without end"},
	} {
		p, out, errs := at(t, "")
		code := run(t.Context(), p, strings.Fields(c.args))
		if code != c.code || !strings.Contains(errs.String(), c.err) || !strings.HasPrefix(out.String(), c.out) || (c.out == "") != (out.Len() == 0) {
			t.Errorf("%s: code %d, out %q, err %q", c.args, code, out, errs)
		}
	}
}
