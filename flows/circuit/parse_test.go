package circuit_test

import (
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/testdata/units"
)

// readPlateWarmer reads the invented unit of testdata/units.
func readPlateWarmer(t testing.TB) *circuit.Unit {
	t.Helper()
	src, err := units.Files.ReadFile("plate-warmer.yaml")
	if err != nil {
		t.Fatal(err)
	}
	u, problems := circuit.Parse("plate-warmer.yaml", src)
	for _, p := range problems {
		t.Error(p)
	}
	if u == nil {
		t.FailNow()
	}
	return u
}

func TestPlateWarmerCounts(t *testing.T) {
	u := readPlateWarmer(t)
	for _, c := range []struct {
		what      string
		got, want int
	}{
		{"parts", len(u.Parts), 14},
		{"wires", len(u.Wires), 24},
		// X1 4, G1 1, S1 4, F1 2, K1 6, two thermostats 4, three elements 6, three lamps 6, fan 2
		{"terminals", len(u.Terms), 35},
		{"covers", len(u.Covers), 3},
	} {
		if c.got != c.want {
			t.Errorf("%d %s, want %d", c.got, c.what, c.want)
		}
	}
}
