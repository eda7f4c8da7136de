package quantity_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"golang.org/x/text/unicode/norm"

	. "halfsplit/flows/quantity"
)

var seeds = []string{
	"12", "12.0 ohm", "12Ω", "2.3M", "2M3", "4k7", "R47", "0L", "OL", "O.L", "open", "infinite", "dead short", "beeps", "nothing", "1",
	"12ish", "0,4", "208 V", "3.1 A", "twelve point five ohms", "half an ohm", "1 1/2", "about 70", ">40M", "jumping around", "13, ol, ol",
	"14 to frame 13", "1,200", "12 m", "0 L", "0.L", "0,L", "O/L", "---", "1.", "3-4k", "900 to 1.1k", "12 ± 0.5", "1½", "10²", "1\u202f200", "-5",
	"jumping between 3 and 40", "two thirty volts", "four k seven", "208 0 0 0 0 0 0 208", "L1-L2 0 L1-N 0", "14: 13, 15: ol", "all three OL",
	"13, rest ol", "K1:A1 - K1:A2: 520 ohm", "I read 13 ohm from 14 to frame", "13/ol/ol", "14-16 OL", "red 14 13, orange 15 ol", "１２．５", "0\u200bL",
	"two million hundred", "9223372036854775807k", "1e9", "0.000000000000000000000001", "12 and a half", "1'234.5", "..5", "5 ± 9223372036854775807",
}

var (
	misreadOL   = regexp.MustCompile(`(?i)(^|[^\pL\pN])[0o][ .,/-]?l($|[\s,;!?])`)
	digitsOnly  = regexp.MustCompile(`[0-9]`)
	simpleText  = regexp.MustCompile(`^[0-9.,' kKMRrGΩ<>~-]*$`)
	repetitions = regexp.MustCompile(`(?i)all|both|each|every|rest|other`)
)

func fuzzWant(u uint8, lo, hi float64) Want { return Want{Unit: Unit(u % 5), Lo: lo, Hi: hi} }

// digitsOf returns the ASCII digits of s after folding.
func digitsOf(s string) string {
	return strings.Join(digitsOnly.FindAllString(norm.NFKC.String(strings.ToValidUTF8(s, "?")), -1), "")
}

func checkReading(t *testing.T, r Reading, w Want, text string) {
	t.Helper()
	if r.Class == Unclear || r.Class > Unstable {
		t.Fatalf("%q: class %v without a doubt", text, r.Class)
	}
	if r.Class == Value && misreadOL.MatchString(text) {
		t.Fatalf("%q was read as %v", text, r)
	}
	if w.Unit != NoUnit && r.Unit != w.Unit {
		t.Fatalf("%q: unit %v for a question about %v", text, r.Unit, w.Unit)
	}
	if r.Lo.Cmp(r.Hi) > 0 {
		t.Fatalf("%q: %v > %v", text, r.Lo, r.Hi)
	}
	if r.Unit == Ohm && r.Lo.Float64() < 0 {
		t.Fatalf("%q: negative ohms", text)
	}
	switch r.Class {
	case Open, OverRange, Short:
		if d := digitsOf(text); strings.Trim(d, "0") != "" {
			t.Fatalf("%q: digits %s lost in %v", text, d, r)
		}
	case Value:
		if r.Lo == r.Hi && (r.Unit == Ohm || r.Lo.Exp <= 3) && simpleText.MatchString(text) {
			typed, said := strings.TrimLeft(digitsOf(text), "0"), strings.TrimLeft(digitsOf(r.String()), "0")
			if typed != said {
				t.Fatalf("%q: typed digits %s, understood %s", text, typed, said)
			}
		}
	}
	// What is said back means the same, to whoever knows the unit.
	if r.Unit == NoUnit {
		if r.Unit = Ohm; r.Lo.Float64() < 0 {
			r.Unit = Volt
		}
	}
	w.Unit = r.Unit
	again, d := Parse(r.String(), w)
	if d != nil || !again.Same(r) {
		t.Fatalf("%q is said back as %q, which is read as %+v %+v, not %+v", text, r, again, d, r)
	}
}

func checkDoubt(t *testing.T, d *Doubt, text string) {
	t.Helper()
	codes := []DoubtCode{NotANumber, Nothing, BareOne, MilliOrMega, Thousand, WrongUnit, Negative, Count}
	if !slices.Contains(codes, d.Code) {
		t.Fatalf("%q: unknown code %q", text, d.Code)
	}
	for _, o := range d.Options {
		if o.Class == Unclear {
			t.Fatalf("%q: unclear option", text)
		}
	}
}

func FuzzParse(f *testing.F) {
	for i, s := range seeds {
		f.Add(s, uint8(i), 0.0, 0.0)
		f.Add(s, uint8(1), 5.0, 50.0)
		f.Add(s, uint8(1), 0.0, 0.0)
	}
	f.Fuzz(func(t *testing.T, text string, unit uint8, lo, hi float64) {
		w := fuzzWant(unit, lo, hi)
		r, d := Parse(text, w)
		if d != nil {
			if r != (Reading{}) {
				t.Fatalf("%q: both %+v and %+v", text, r, d)
			}
			checkDoubt(t, d, text)
			return
		}
		checkReading(t, r, w, text)
	})
}

func FuzzParseList(f *testing.F) {
	for i, s := range seeds {
		f.Add(s, uint8(i), uint8(1))
		f.Add(s, uint8(3), uint8(1))
		f.Add(s, uint8(0), uint8(0))
		f.Add(s, uint8(8), uint8(2))
	}
	f.Fuzz(func(t *testing.T, text string, n, unit uint8) {
		wants := slices.Repeat([]Want{fuzzWant(unit, 0, 0)}, int(n%9))
		ls, d := ParseList(text, wants)
		if (d == nil) == (len(ls) == 0) {
			t.Fatalf("%q: %v and %v", text, ls, d)
		}
		if d != nil {
			checkDoubt(t, d, text)
			return
		}
		if len(wants) > 0 && len(ls) != len(wants) {
			t.Fatalf("%q: %d readings for %d", text, len(ls), len(wants))
		}
		digits, open := 0, false
		for i, l := range ls {
			w := Want{}
			if len(wants) > 0 {
				w = wants[i]
			}
			checkReading(t, l.Reading, w, l.Reading.Text)
			digits += len(digitsOf(l.Where)) + len(digitsOf(l.Reading.Text))
			open = open || l.Reading.Class == Open || l.Reading.Class == OverRange || misreadOL.MatchString(l.Where)
		}
		if !repetitions.MatchString(text) && digits != len(digitsOf(text)) {
			t.Fatalf("%q: digits dropped or used twice in %+v", text, ls)
		}
		if misreadOL.MatchString(text) && !open {
			t.Fatalf("%q: OL lost in %+v", text, ls)
		}
		if len(wants) == 1 {
			if r, d := Parse(text, wants[0]); d == nil && r != ls[0].Reading {
				t.Fatalf("%q: Parse gives %+v, ParseList %+v", text, r, ls)
			}
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for _, text := range []string{"12", "0L", "2.3 MΩ", "jumping around", "twelve point five ohms"} {
		b.Run(text, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Parse(text, ohms)
			}
		})
	}
}

func BenchmarkParseList(b *testing.B) {
	wants := slices.Repeat([]Want{volts}, 8)
	for name, text := range map[string]string{
		"eight":   "208 0 0 0 0 0 0 208",
		"talk":    "L1-L2 0 L1-N 0 and then nothing more, as far as I can see",
		"longest": strings.Repeat("14 to 1/2,3 and ", 24),
	} {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				ParseList(text, wants)
			}
		})
	}
}
