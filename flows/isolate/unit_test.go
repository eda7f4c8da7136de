package isolate

import (
	"os"
	"testing"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"

	"github.com/stretchr/testify/require"
)

// warmer is the model of the demo unit.
func warmer(t testing.TB) *Model {
	t.Helper()
	src, err := os.ReadFile("../../testdata/units/plate-warmer.yaml")
	require.NoError(t, err)
	return modelOf(t, "plate-warmer.yaml", string(src))
}

func modelOf(t testing.TB, file, src string) *Model {
	t.Helper()
	u, problems := circuit.Parse(file, []byte(src))
	for _, p := range problems {
		t.Error(p.String())
	}
	require.NotNil(t, u)
	return New(circuit.NewNetwork(u))
}

// term is the node of a terminal by name, "K1:T2".
func term(t testing.TB, m *Model, name string) circuit.Node {
	t.Helper()
	for i := range m.unit.Terms {
		if m.unit.TermName(circuit.TermID(i)) == name {
			return m.net.Term(circuit.TermID(i))
		}
	}
	require.Fail(t, "no terminal "+name)
	return 0
}

// end is the end of the wire of a number that lands on a terminal.
func end(t testing.TB, m *Model, number, name string) circuit.EndID {
	t.Helper()
	for w, wire := range m.unit.Wires {
		if wire.Number != number {
			continue
		}
		for side, e := range circuit.WireID(w).Ends() {
			if m.unit.TermName(wire.Ends[side]) == name {
				return e
			}
		}
	}
	require.Fail(t, "no wire "+number+" at "+name)
	return 0
}

func wire(t testing.TB, m *Model, number string) circuit.WireID {
	t.Helper()
	for w := range m.unit.Wires {
		if m.unit.Wires[w].Number == number {
			return circuit.WireID(w)
		}
	}
	require.Fail(t, "no wire "+number)
	return 0
}

func part(t testing.TB, m *Model, tag string) circuit.PartID {
	t.Helper()
	for p := range m.unit.Parts {
		if m.unit.Parts[p].Tag == tag {
			return circuit.PartID(p)
		}
	}
	require.Fail(t, "no part "+tag)
	return 0
}

// open is the state with every cover off and everything landed.
func open(m *Model) circuit.State {
	var s circuit.State
	for c := range m.unit.Covers {
		s = s.Uncover(c)
	}
	return s
}

func lifted(s circuit.State, ends ...circuit.EndID) circuit.State {
	for _, e := range ends {
		s = s.Lift(e)
	}
	return s
}

// reads is an observation of typed text at a test.
func reads(t testing.TB, seq int, test Test, text string) Observation {
	t.Helper()
	got, doubt := quantity.Parse(text, quantity.Want{Unit: quantity.Ohm})
	require.Nil(t, doubt, text)
	return Observation{Seq: seq, Test: test, Got: got}
}

func odds(b *Belief, it circuit.Item) int {
	for _, o := range b.Odds {
		if o.Item == it {
			return o.PerMille
		}
	}
	return 0
}

// done is the state after acts.
func done(m *Model, s circuit.State, acts []Act) circuit.State {
	for _, a := range acts {
		switch a.Kind {
		case OpenCover:
			s = s.Uncover(a.Cover)
		case CloseCover:
			s = s.Cover(a.Cover)
		case Lift:
			s = s.Lift(a.End)
		case Land:
			s = s.Land(a.End)
		case Move:
			s = s.Move(m.unit, a.Part, a.To)
		}
	}
	return s
}
