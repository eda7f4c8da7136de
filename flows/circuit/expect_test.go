package circuit_test

import (
	"math"
	"strings"
	"testing"

	"halfsplit/flows/circuit"
)

// TestExpectDeadHandValues compares the sheet of expected values with the table of
// testdata/units/README.md, worked out by hand from V²/P and Ohm's law. The hand values
// leave out joints (0.01 Ω), closed contacts (0.05 Ω) and the way to the panel (0.2 Ω):
// hence 0.5 Ω.
func TestExpectDeadHandValues(t *testing.T) {
	u := readPlateWarmer(t)
	n := circuit.NewNetwork(u)
	inf := math.Inf(1)
	for _, c := range []struct {
		table     circuit.Table
		setting   string
		what, off string
		lift      string // more wires off, by number and part
		want      float64
	}{
		{circuit.PartOhms, "", "E1", "its wires", "", 208 * 208 / 650.0},
		{circuit.PartOhms, "", "E2", "its wires", "", 208 * 208 / 630.0},
		{circuit.PartOhms, "", "E3", "its wires", "", 208 * 208 / 400.0},
		{circuit.PartOhms, "", "H1", "its wires", "", 120 * 120 / 60.0 / 12},
		{circuit.PartOhms, "", "H2", "its wires", "", 120 * 120 / 60.0 / 12},
		{circuit.PartOhms, "", "H3", "its wires", "", 120 * 120 / 6.0 / 12},
		{circuit.PartOhms, "", "K1 coil", "its wires", "", 700},
		{circuit.PartOhms, "", "M1 winding", "its wires", "", 38},
		{circuit.PartOhms, "", "K1 coil", "", "", 700},
		{circuit.FreeEnd, "", "14 K1:T2 - H1:1", "14 at K1:T2", "", 10},
		{circuit.FreeEnd, "", "14 K1:T2 - H1:1", "14 at K1:T2, neutral", "", inf},
		{circuit.FreeEnd, "", "15 K1:T2 - E1:2", "15 at K1:T2", "14 at K1", inf},
		{circuit.FreeEnd, "", "16 K1:T2 - E2:2", "16 at K1:T2", "14 at K1", inf},
		{circuit.PointOhms, "", "K1:T2", "", "", 10},
		{circuit.PointOhms, "", "K1:T1", "", "", 35.75},
		{circuit.LegOhms, "", "K1:T1 to T2", "", "", 25.75},
		{circuit.PointOhms, "", "S1:4", "", "", 200 * 38 / 238.0},
		{circuit.PointOhms, "", "X1:L1", "", "", inf},
		{circuit.PointOhms, "", "X1:L2", "", "", inf},
		{circuit.LegOhms, "", "L2 to ground", "", "", inf},
		{circuit.LegOhms, "", "L2 to ground", "neutral", "", inf},
		// Beyond that table. S1 on: leg to leg the coil; L1 to neutral pilot and fan.
		{circuit.LegOhms, "S1 on", "L1 to L2", "", "", 700},
		{circuit.LegOhms, "S1 on", "L1 to N", "", "", 31.93},
		{circuit.LegOhms, "S1 on", "L1 to ground", "neutral", "", inf},
		// Contactor held in: leg to leg the elements, with the coil and the fan in vain;
		// drawer 1 out: 68.67 and 108.16 in parallel, 42.0.
		{circuit.LegOhms, "K1 pulled in", "L1 to L2", "", "", 25.75},
		{circuit.LegOhms, "TH1 hot", "K1:T1 to T2", "", "", 42.0},
		{circuit.LegOhms, "TH2 hot", "K1:T1 to T2", "", "", 41.2},
	} {
		s := circuit.State{}
		if c.lift != "" {
			s = s.Lift(findEnd(t, u, c.lift))
		}
		found := 0
		for _, e := range circuit.ExpectDead(n, s) {
			if e.Table != c.table || e.Setting != c.setting || e.What != c.what || e.Off != c.off {
				continue
			}
			found++
			if math.IsInf(c.want, 1) != math.IsInf(e.Nominal, 1) || !math.IsInf(c.want, 1) && math.Abs(e.Nominal-c.want) > max(0.5, 0.002*c.want) {
				t.Errorf("%s %s, off %q: %.3f Ω, want %.3f", c.what, c.setting, c.off, e.Nominal, c.want)
			}
			if e.Lo > e.Nominal || e.Hi < e.Nominal {
				t.Errorf("%s: %v outside %v to %v", c.what, e.Nominal, e.Lo, e.Hi)
			}
		}
		if found != 1 {
			t.Errorf("%v %q %q, off %q: %d values", c.table, c.setting, c.what, c.off, found)
		}
	}
}

// TestExpectDeadBand compares tolerances with those worked out by hand: an element of
// V²/P -5/+11 %; two filament lamps of 20 Ω ±35 % in parallel, 6.5 to 13.5 Ω; a coil of
// 700 Ω ±10 %.
func TestExpectDeadBand(t *testing.T) {
	for _, e := range circuit.ExpectDead(circuit.NewNetwork(readPlateWarmer(t)), circuit.State{}) {
		if e.Table != circuit.PartOhms {
			continue
		}
		var lo, hi float64
		switch {
		case e.What == "E1" && e.Off == circuit.OffWires:
			lo, hi = 66.56*0.95, 66.56*1.11
		case e.What == "H1" && e.Off == "":
			lo, hi = 6.5, 13.5
		case e.What == "K1 coil" && e.Off == circuit.OffWires:
			lo, hi = 630, 770
		default:
			continue
		}
		if math.Abs(e.Lo-lo) > 0.05 || math.Abs(e.Hi-hi) > 0.05 {
			t.Errorf("%s: %.2f to %.2f Ω, want %.2f to %.2f", e.What, e.Lo, e.Hi, lo, hi)
		}
	}
}

// TestExpectLiveHandValues compares the plate warmer in use with phasors added by hand,
// with the fan at a power factor of 0.6: elements 650 W, 630 W and 400 W of 208 V; lamps
// 60 W, 60 W and 6 W of 120 V; fan 0.6·120²/35 = 246.9 Ω.
//
//	elements, L1 to L2 (30°)       1680/208        8.08 A
//	fan and pilot, L1 to N         0.34 - 0.39j
//	lamps, L2 to N (-120°)         120/120         1.00 A
//	L1 = 8.08∠30° + fan and pilot                  8.19 A
//	L2 = lamps - 8.08∠30°                          8.96 A
//	N  = fan, pilot and lamps                      1.26 A
//
// The supply sags under the load by some 3 %, which the hand values leave out.
func TestExpectLiveHandValues(t *testing.T) {
	u := readPlateWarmer(t)
	all, in, err := circuit.ExpectLive(circuit.NewNetwork(u), circuit.InUse(u))
	if err != nil {
		t.Fatal(err)
	}
	if in.Len() != 1 || u.Parts[in.Each()[0]].Tag != "K1" {
		t.Errorf("pulled in: %v", in)
	}
	want := map[string]float64{
		"leg amps L1": 8.19, "leg amps L2": 8.96, "leg amps N": 1.26,
		"load amps E1": 650.0 / 208, "load amps E2": 630.0 / 208, "load amps E3": 400.0 / 208,
		"load amps H1": 0.5, "load amps H3": 0.05, "load amps M1 winding": 120 / 246.9,
		"load volts E1": 208, "load volts H1": 120, "load volts M1 winding": 120, "load volts K1 coil": 208,
	}
	for _, e := range all {
		key := e.Table.String() + " " + e.What
		x, ok := want[key]
		if !ok || e.Table == circuit.LoadVolts && strings.HasSuffix(e.To, "frame") {
			continue
		}
		delete(want, key)
		least := 0.95
		if e.What == "M1 winding" && e.Table == circuit.LoadAmps {
			least = 0.88 // what a fan takes is derived from its plate and its dead ohms
		}
		if e.Nominal > x*1.001 || e.Nominal < x*least {
			t.Errorf("%s: %.3f, want %.3f or little less", key, e.Nominal, x)
		}
		if e.Setting != "S1 on" {
			t.Errorf("%s: setting %q", key, e.Setting)
		}
	}
	if len(want) > 0 {
		t.Errorf("not listed: %v", want)
	}
}
