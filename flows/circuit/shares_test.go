package circuit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"halfsplit/flows/quantity"
)

// The shares of a reading add up to 1, and each is the relative change of the reading
// per relative change of that resistance, found here by solving twice.
func TestSharesAreSensitivities(t *testing.T) {
	b := plateWarmer()
	n := NewNetwork(b.u)
	r := rand.New(rand.NewPCG(9, 9))
	checked := 0
	for range 150 {
		s := anyState(b.u, r)
		v := n.Dead(s)
		from, to := Node(r.IntN(n.Nodes())), Node(r.IntN(n.Nodes()+1)-1)
		shares := v.Shares(from, to)
		if math.IsInf(float64(v.Ohms(from, to)), 1) || from == to {
			if shares != nil {
				t.Errorf("%d to %d in %+v: OL has shares %v", from, to, s, shares)
			}
			continue
		}
		sum := 0.0
		for _, x := range shares {
			sum += x.Of
			if x.Kind != ElemShare && x.Kind != JointShare {
				continue
			}
			const step = 1e-4
			read := func(f float64) float64 {
				act := &Actual{Elems: make([][]quantity.Ohms, len(b.u.Parts)), Joints: make([]quantity.Ohms, 2*len(b.u.Wires))}
				if x.Kind == ElemShare {
					act.Elems[x.Part] = make([]quantity.Ohms, len(b.u.Parts[x.Part].Elems))
					act.Elems[x.Part][x.Elem] = quantity.Ohms(n.elemOhms(x.Part, x.Elem, nil) * f)
				} else {
					act.Joints[x.End] = quantity.Ohms(float64(JointOhms) * f)
				}
				w, err := n.DeadUnder(s, nil, act)
				if err != nil {
					t.Fatal(err)
				}
				return float64(w.Ohms(from, to))
			}
			if got := math.Log(read(1+step)/read(1-step)) / math.Log((1+step)/(1-step)); math.Abs(got-x.Of) > 1e-7 {
				t.Errorf("%d to %d: share %+v, by differences %v", from, to, x, got)
			}
			checked++
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("%d to %d in %+v: shares add to %v", from, to, s, sum)
		}
	}
	if checked < 300 {
		t.Errorf("only %d shares checked", checked)
	}
}

func TestReachStopsAtOpenContacts(t *testing.T) {
	b := plateWarmer()
	n := NewNetwork(b.u)
	has := func(s State, from, to string, through bool) bool {
		list := n.Reach(s, b.node(from))
		if through {
			list = n.ReachThrough(s, b.node(from))
		}
		if !slices.IsSorted(list) {
			t.Errorf("from %s: %v is not ascending", from, list)
		}
		return slices.Contains(list, b.node(to))
	}
	rest := State{}
	hot := rest.Move(b.u, b.id("T1"), 1)
	for _, c := range []struct {
		what string
		got  bool
		want bool
	}{
		{"through a closed thermostat", has(rest, "K1:T1", "E1:1", false), true},
		{"through an open thermostat", has(hot, "K1:T1", "E1:1", false), false},
		{"through an element", has(rest, "E1:1", "E1:2", false), false},
		{"through an element, resistances count", has(rest, "E1:1", "E1:2", true), true},
		{"across the open contactor", has(rest, "K1:L1", "K1:T1", true), false},
		{"contactor held in", has(rest.Move(b.u, b.id("K1"), 1), "K1:L1", "K1:T1", false), true},
		{"lifted end", has(rest.Lift(7*2), "K1:T1", "E1:1", false), false},
		{"not through the panel", has(rest, "X1:L1", "X1:L2", false), false},
		{"coil joins the legs, resistances count", has(rest.Move(b.u, b.id("S1"), 1), "X1:L1", "X1:L2", true), true},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, want %v", c.what, c.got, c.want)
		}
	}
	if got, want := n.Reach(rest, Chassis), []Node{b.node("X1:PE")}; !slices.Equal(got, want) {
		t.Errorf("on the frame: %v, want %v", got, want)
	}
}
