package circuit_test

import (
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/testdata/units"
)

// FuzzParse: whatever the bytes are, Parse returns a unit or problems, each with a place
// in the file, and the same ones again. A unit's indexes lie within its slices.
func FuzzParse(f *testing.F) {
	files, err := units.Library()
	if err != nil {
		f.Fatal(err)
	}
	for _, file := range files {
		f.Add(file.Source)
	}
	f.Add([]byte(twelve))
	f.Add([]byte(sound))
	f.Add([]byte(decks))
	f.Add([]byte(controlled))
	for _, c := range spoilt {
		f.Add([]byte(c.new))
	}
	f.Add([]byte("a: [\n"))
	f.Add([]byte("? a\n: b\n"))
	f.Add([]byte("a: &x *x\n--- |\n\xff"))
	f.Fuzz(func(t *testing.T, src []byte) {
		u, problems := circuit.Parse("f.yaml", src)
		if (u == nil) == (len(problems) == 0) {
			t.Fatalf("unit %v with %d problems", u != nil, len(problems))
		}
		for _, p := range problems {
			if p.Line < 1 || p.Col < 1 || p.Found == "" || p.Write == "" {
				t.Errorf("problem without place or words: %q", p)
			}
		}
		_, again := circuit.Parse("f.yaml", src)
		if len(again) != len(problems) {
			t.Fatalf("%d problems, then %d", len(problems), len(again))
		}
		if u == nil {
			return
		}
		for _, w := range u.Wires {
			for _, e := range w.Ends {
				_ = u.Parts[u.Terms[e].Part]
			}
		}
		for _, fault := range circuit.AllFaults(u) {
			if fault.Name(u) == "" {
				t.Error("a fault without a name")
			}
		}
	})
}
