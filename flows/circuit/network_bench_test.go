package circuit

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"halfsplit/flows/quantity"
)

// BenchmarkSolve measures, for the plate warmer and for a unit of 121 parts: building
// the network, a state from scratch, one reading, a reading under a fault as a change
// (both columns known), and solving anew under a fault.
func BenchmarkSolve(b *testing.B) {
	for _, u := range []*bench{parsed(b, "plate-warmer.yaml"), line(12)} {
		n := NewNetwork(u.u)
		name := fmt.Sprintf("%d parts %d nodes/", len(u.u.Parts), n.Nodes())
		s := State{}
		v := n.Dead(s)
		faults := u.faults()
		r := rand.New(rand.NewPCG(1, 1))
		var halves, columns []Half
		var changes []Change
		for _, f := range faults {
			if c, ok := n.Change(s, f); ok {
				changes = append(changes, c)
				columns = append(columns, v.HalfOf(c))
			}
		}
		for range 64 {
			halves = append(halves, v.Half(Node(r.IntN(len(u.u.Terms))), Chassis))
		}
		b.Run(name+"network", func(b *testing.B) {
			for b.Loop() {
				NewNetwork(u.u)
			}
		})
		b.Run(name+"state", func(b *testing.B) {
			for b.Loop() {
				n.Dead(s)
			}
		})
		b.Run(name+"reading", func(b *testing.B) {
			i := 0
			for b.Loop() {
				v.Ohms(Node(i%len(u.u.Terms)), Chassis)
				i++
			}
		})
		b.Run(name+"change", func(b *testing.B) {
			i := 0
			for b.Loop() {
				n.Change(s, faults[i%len(faults)])
				i++
			}
		})
		b.Run(name+"under", func(b *testing.B) {
			i := 0
			var sum quantity.Ohms
			for b.Loop() {
				x, _ := v.Under(halves[i%64], changes[i%len(changes)], columns[i%len(changes)])
				sum += x
				i++
			}
		})
		b.Run(name+"anew", func(b *testing.B) {
			i := 0
			for b.Loop() {
				if _, err := n.DeadUnder(s, faults[i%len(faults):i%len(faults)+1], nil); err != nil {
					b.Fatal(err)
				}
				i++
			}
		})
		b.Run(name+"live", func(b *testing.B) {
			on := s.SwitchOn(0)
			for p := range u.u.Parts {
				if u.u.Parts[p].Kind == KindSwitch {
					on = on.Move(u.u, PartID(p), 1)
				}
			}
			for b.Loop() {
				if _, err := n.Live(on, nil, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
