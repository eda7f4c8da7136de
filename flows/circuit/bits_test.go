package circuit_test

import (
	"encoding/json"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"halfsplit/flows/circuit"
)

// Bits must behave as a set of numbers kept in a map, and equal sets must be equal.
func TestBitsAgainstAMap(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		var b circuit.Bits
		set := map[int]bool{}
		for range 60 {
			i := r.IntN(90)
			if r.IntN(2) == 0 {
				b = b.With(i)
				set[i] = true
			} else {
				b = b.Without(i)
				delete(set, i)
			}
		}
		var want []int
		for i := range set {
			want = append(want, i)
		}
		slices.Sort(want)
		if got := b.Each(); !slices.Equal(got, want) || b.Len() != len(want) {
			t.Fatalf("got %v (%d), want %v", got, b.Len(), want)
		}
		slices.Reverse(want)
		if again := circuit.BitsOf(want...); again != b {
			t.Fatalf("the same set differs: %q and %q", again, b)
		}
		for i := range 100 {
			if b.Has(i) != set[i] {
				t.Fatalf("Has(%d) = %v", i, b.Has(i))
			}
		}
	}
	if b := circuit.BitsOf(3, -1, 1<<40); b != circuit.BitsOf(3) || b.Has(-1) {
		t.Errorf("numbers outside the range are in %v", b)
	}
}

func TestPlacesForgetRest(t *testing.T) {
	var p circuit.Places
	q := p.With(7, 2).With(3, 0)
	if q.Of(7, 0) != 2 || q.Of(3, 1) != 0 || q.Of(5, 1) != 1 || q.Of(70, 4) != 4 || q.Of(-1, 4) != 4 {
		t.Errorf("wrong positions in %q", q)
	}
	if q.With(7, circuit.None).With(3, circuit.None) != p {
		t.Error("a list with nothing recorded differs from the empty one")
	}
}

// States are stored in trails: the text is fixed, and comes back as it was.
func TestStateJSON(t *testing.T) {
	s := circuit.State{On: circuit.BitsOf(0), Lifted: circuit.BitsOf(31, 4), At: circuit.Places("").With(2, 1)}
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	if want := `{"on":[0],"held":[],"at":[-1,-1,1],"lifted":[4,31],"off":[]}`; string(text) != want {
		t.Errorf("got %s, want %s", text, want)
	}
	var back circuit.State
	if err := json.Unmarshal(text, &back); err != nil || back != s {
		t.Errorf("came back as %+v, %v", back, err)
	}
	for _, bad := range []string{`{"on":[-1]}`, `{"at":[300]}`, `{"lifted":[99999999]}`, `{"off":"x"}`} {
		if err := json.Unmarshal([]byte(bad), new(circuit.State)); err == nil {
			t.Errorf("%s was read", bad)
		}
	}
}

func TestStateMoves(t *testing.T) {
	u := readPlateWarmer(t)
	var zero circuit.State
	k1 := circuit.PartID(4)
	s := zero.Move(u, k1, 1)
	if s == zero || s.Position(u, k1) != 1 || zero.Position(u, k1) != 0 {
		t.Errorf("K1 is not pulled in: %+v", s)
	}
	if s.Move(u, k1, 0) != zero {
		t.Error("a contactor let go again is another state than one never moved")
	}
	if zero.Move(u, k1, 9) != zero || zero.Move(u, 99, 1) != zero || zero.Move(u, 0, 1) != zero {
		t.Error("a position or part that is not there changed the state")
	}
	if zero.Lift(7).Land(7) != zero || !zero.Lift(7).Lifted.Has(7) {
		t.Error("lift and land do not undo each other")
	}
	if w, end := circuit.EndID(7).Wire(); w != 3 || end != 1 || w.Ends()[1] != 7 {
		t.Error("end 7 is not the second end of wire 3")
	}
}

// Modes are stored by name.
func TestFaultJSON(t *testing.T) {
	f := circuit.Fault{Mode: circuit.Broken, Part: circuit.None, Elem: circuit.None, Wire: 3, End: 1}
	text, err := json.Marshal(f)
	if want := `{"mode":"broken","part":-1,"elem":-1,"wire":3,"end":1}`; err != nil || string(text) != want {
		t.Errorf("got %s, %v, want %s", text, err, want)
	}
	var back circuit.Fault
	if err := json.Unmarshal(text, &back); err != nil || !reflect.DeepEqual(back, f) {
		t.Errorf("came back as %+v, %v", back, err)
	}
	if err := json.Unmarshal([]byte(`{"mode":"tired"}`), &back); err == nil {
		t.Error("a mode that does not exist was read")
	}
}
