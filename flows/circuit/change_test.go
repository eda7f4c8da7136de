package circuit

import (
	"math"
	"math/rand/v2"
	"testing"

	"halfsplit/flows/quantity"
)

// same tells whether two readings agree within a relative error; both OL is agreement,
// and so is one just under the ceiling with the other just over.
func same(a, b quantity.Ohms, within float64) bool {
	x, y := float64(a), float64(b)
	if math.IsInf(x, 1) || math.IsInf(y, 1) {
		return math.Min(x, y) > 0.999*float64(Ceiling)
	}
	return math.Abs(x-y) <= within*math.Max(x, y)+1e-12
}

// Every fault of a unit in many states, read between many pairs: the rank-one form
// must agree with solving anew wherever it claims to be right (3e-7).
func TestChangeAgreesWithSolvingAnew(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 7))
	out := plateWarmer()
	out.u.Name = "plate warmer, unplugged"
	out.u.Sources[0].Isolator.Kind = Plug
	for _, c := range []struct {
		b      *bench
		states int
	}{
		{plateWarmer(), 40}, {out, 40}, {parsed(t, "plate-warmer.yaml"), 30}, {line(12), 1},
		{shuffled(r, 8), 20}, {shuffled(r, 14), 10}, {shuffled(r, 20), 10}, {shuffled(r, 30), 5},
	} {
		t.Run(c.b.u.Name, func(t *testing.T) { checkChanges(t, c.b, c.states) })
	}
}

func checkChanges(t *testing.T, b *bench, states int) {
	n := NewNetwork(b.u)
	r := rand.New(rand.NewPCG(7, 1))
	faults := b.faults()
	var read, anew, idles, refused int
	worst := 0.0
	for range states {
		s := anyState(b.u, r)
		v := n.Dead(s)
		var pairs [][2]Node
		for range 12 {
			x, y := Node(r.IntN(n.Nodes())), Node(r.IntN(n.Nodes()+n.Nodes()/2))
			if int(y) >= n.Nodes() {
				y = Chassis
			}
			if x != y {
				pairs = append(pairs, [2]Node{x, y})
			}
		}
		for _, f := range faults {
			exact, err := n.DeadUnder(s, []Placed{f}, nil)
			if err != nil {
				t.Fatal(err)
			}
			c, ok := n.Change(s, f)
			if !ok && !c.Idle() {
				refused++
				continue
			}
			hc := v.HalfOf(c)
			for _, p := range pairs {
				want := exact.Ohms(p[0], p[1])
				got, ok := v.Under(v.Half(p[0], p[1]), c, hc)
				if c.Idle() {
					idles++
				}
				if !ok {
					anew++
					continue
				}
				read++
				if !same(got, want, 3e-7) {
					t.Fatalf("%+v in %+v between %d and %d: change %v, solved anew %v", f, s, p[0], p[1], got, want)
				}
				if want > 1e-4 && !math.IsInf(float64(want), 1) && !math.IsInf(float64(got), 1) {
					worst = math.Max(worst, math.Abs(float64(got-want))/float64(want))
				}
			}
		}
	}
	t.Logf("%d readings by change (%d idle), worst error %.1e; %d to solve anew; %d faults refused", read, idles, worst, anew, refused)
	if refused > 0 {
		t.Errorf("%d faults were not put as a change", refused)
	}
	if anew > read/20 {
		t.Errorf("%d of %d readings had to be solved anew: too many", anew, read+anew)
	}
}
