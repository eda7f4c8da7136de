package isolate

import (
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"

	"github.com/stretchr/testify/require"
)

// warmer parses the demo unit.
func warmer(t testing.TB) *circuit.Unit {
	t.Helper()
	src, err := os.ReadFile("../../testdata/units/plate-warmer.yaml")
	require.NoError(t, err)
	u, problems := circuit.Parse("plate-warmer.yaml", src)
	for _, p := range problems {
		t.Error(p.String())
	}
	require.NotNil(t, u)
	return u
}

// truth is one specimen of a unit with one fault, off the engine's grid.
type truth struct {
	fault circuit.Placed
	act   *circuit.Actual
	leads quantity.Ohms
	rng   *rand.Rand
}

// draw makes a specimen: elements ±5 %, filament lamps ±35 %, other parts over their
// spread, joints 5 to 30 mΩ, leads 0.02 to 0.32 Ω.
func draw(u *circuit.Unit, f circuit.Placed, rng *rand.Rand) *truth {
	tr := &truth{fault: f, rng: rng, act: &circuit.Actual{}}
	for _, part := range u.Parts {
		row := make([]quantity.Ohms, len(part.Elems))
		for i, e := range part.Elems {
			if e.Role == circuit.Resist {
				switch part.Kind {
				case circuit.KindLamp:
					row[i] = e.Ohms.Nominal * quantity.Ohms(0.65+0.7*rng.Float64())
				case circuit.KindElement:
					row[i] = e.Ohms.Nominal * quantity.Ohms(0.95+0.1*rng.Float64())
				default:
					row[i] = e.Ohms.Lo + quantity.Ohms(rng.Float64())*(e.Ohms.Hi-e.Ohms.Lo)
				}
			}
		}
		tr.act.Elems = append(tr.act.Elems, row)
	}
	for range 2 * len(u.Wires) {
		tr.act.Joints = append(tr.act.Joints, quantity.Ohms(0.005+0.025*rng.Float64()))
	}
	tr.leads = quantity.Ohms(0.02 + 0.3*rng.Float64())
	return tr
}

// meter reads a test on the specimen: 1 % and counts, leads on top.
func (tr *truth) meter(t testing.TB, n *circuit.Network, test Test) quantity.Reading {
	v, err := n.DeadUnder(electrical(test.In), []circuit.Placed{tr.fault}, tr.act)
	require.NoError(t, err)
	r := v.Ohms(test.A, test.B)
	if float64(r) > 3e7 {
		return quantity.Reading{Class: quantity.Open, Unit: quantity.Ohm}
	}
	x := float64(r)*(1+0.01*(2*tr.rng.Float64()-1)) + float64(tr.leads) + 0.1*(2*tr.rng.Float64()-1)
	d := quantity.DecimalOf(math.Max(0, x), 3)
	return quantity.Reading{Class: quantity.Value, Lo: d, Hi: d, Unit: quantity.Ohm}
}

type result struct {
	right, wrong, handed    bool
	readings, lifts, covers int
	minutes                 float64
	misfit                  bool
	verdict                 circuit.Item
	why                     string
	steps                   int
}

func isolateOnce(t testing.TB, m *Model, tr *truth, c Case) result {
	var r result
	var s circuit.State
	s = s.Uncover(0)
	var obs []Observation
	for step := 0; step < 40; step++ {
		r.steps = step
		b := m.Believe(c, obs)
		r.misfit = r.misfit || len(b.Misfit) > 0
		switch b.Verdict {
		case Proved:
			r.verdict = b.Odds[0].Item
			r.right = r.verdict == m.unit.Item(tr.fault.Fault)
			r.wrong = !r.right
			return r
		case Beyond:
			r.handed, r.why = true, "beyond"
			return r
		}
		var ch Choice
		var err error
		if b.Verdict == Suspect {
			ch, err = m.Confirm(b, s, Bans{})
		}
		if b.Verdict == Open || errors.Is(err, ErrNothingTelling) {
			ch, err = m.Next(b, s, Bans{})
		}
		if err != nil {
			r.handed, r.why = true, err.Error()
			return r
		}
		for _, a := range ch.Acts {
			switch a.Kind {
			case OpenCover:
				s = s.Uncover(a.Cover)
				r.covers++
			case Lift:
				s = s.Lift(a.End)
				r.lifts++
			case Move:
				s = s.Move(m.unit, a.Part, a.To)
			}
		}
		r.minutes += ch.Minutes
		for _, test := range ch.Tests {
			r.readings++
			got := tr.meter(t, m.net, test)
			obs = append(obs, Observation{Seq: len(obs) + 1, Test: test, Got: got})
			if testing.Verbose() && os.Getenv("TRACE") != "" {
				t.Logf("   %v %s read %v (%.2f bits, %.1f min)", ch.Acts, test.Key, got, ch.Gain, ch.Minutes)
			}
		}
	}
	r.handed, r.why = true, "too long"
	return r
}

// faultsThatTrip draws placed faults that make the breaker go at once, off the grid.
func faultThatTrips(m *Model, f circuit.Fault, rng *rand.Rand) (circuit.Placed, bool) {
	on, _, _ := switchedOn(m.unit)
	for range 200 {
		p := circuit.Placed{Fault: f}
		switch f.Mode {
		case circuit.Earthed, circuit.Chafed, circuit.EarthedTerm:
			p.Ohms = quantity.Ohms(math.Exp(math.Log(0.02) + rng.Float64()*math.Log(10/0.02)))
			p.At = rng.Float64()
			if rng.Float64() < 0.5 {
				p.At = rng.Float64() * 0.05
			}
			if rng.Float64() < 0.5 {
				p.At = 1 - p.At
			}
		case circuit.ShortCircuit:
			p.Ohms = quantity.Ohms(math.Exp(math.Log(0.02) + rng.Float64()*math.Log(10/0.02)))
		case circuit.ShortedTurns:
			p.Ohms = quantity.Ohms(math.Exp(math.Log(0.004) + rng.Float64()*math.Log(1/0.004)))
		default:
			return p, false
		}
		mult, err := m.net.AtOnce(on, []circuit.Placed{p})
		if err == nil && rng.Float64() < goesAtOnce(mult) {
			return p, true
		}
	}
	return circuit.Placed{}, false
}

func TestSim(t *testing.T) {
	u := warmer(t)
	m := New(circuit.NewNetwork(u))
	t.Logf("vars %d items %d", len(m.vars), len(m.items))
	rng := rand.New(rand.NewPCG(1, 2))
	n, right, wrong, handed, misfit := 0, 0, 0, 0, 0
	var readings, lifts, covers, minutes float64
	for _, f := range circuit.AllFaults(u) {
		for range 3 {
			p, ok := faultThatTrips(m, f, rng)
			if !ok {
				break
			}
			tr := draw(u, p, rng)
			c := Case{Complaint: TripsAtOnce, Leads: tr.leads}
			r := isolateOnce(t, m, tr, c)
			n++
			if r.right {
				right++
			}
			if r.wrong {
				wrong++
			}
			if r.handed {
				handed++
			}
			if r.misfit {
				misfit++
			}
			readings += float64(r.readings)
			lifts += float64(r.lifts)
			covers += float64(r.covers)
			minutes += r.minutes
			if !r.right {
				t.Logf("%s R=%.2f at %.3f: right %v handed %v %s, %d readings %d lifts %.1f min, verdict %s", f.Name(u), p.Ohms, p.At, r.right, r.handed, r.why, r.readings, r.lifts, r.minutes, r.verdict.Name(u))
			}
		}
	}
	N := float64(n)
	t.Logf("n %d right %d wrong %d handed %d misfit %d readings %.1f lifts %.1f covers %.1f minutes %.1f", n, right, wrong, handed, misfit, readings/N, lifts/N, covers/N, minutes/N)
}

func TestOne(t *testing.T) {
	u := warmer(t)
	m := New(circuit.NewNetwork(u))
	rng := rand.New(rand.NewPCG(1, 2))
	for _, f := range circuit.AllFaults(u) {
		if f.Name(u) != os.Getenv("ONE") {
			continue
		}
		p, _ := faultThatTrips(m, f, rng)
		p.At, p.Ohms = 0.995, 0.04
		tr := draw(u, p, rng)
		c := Case{Complaint: TripsAtOnce, Leads: tr.leads}
		r := isolateOnce(t, m, tr, c)
		t.Logf("%+v", r)
	}
}
