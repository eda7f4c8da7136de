package machine

import (
	"fmt"
	"slices"
	"strings"

	"halfsplit/flows/safety"
)

// Pair is a state with the facts that hold in it.
type Pair struct {
	At    State
	Facts safety.Facts
}

// Place is a pair that a walk came to, with what the watcher of the walk knows there.
type Place[W comparable] struct {
	Pair
	Watch W
	walk  *walk[W]
	n     int
}

// Path returns the events of a shortest way from the start of the walk to the place.
func (p Place[W]) Path() []Event {
	var path []Event
	for n := p.n; p.walk.parent[n] >= 0; n = p.walk.parent[n] {
		path = append(path, p.walk.on[n])
	}
	slices.Reverse(path)
	return path
}

// String gives the place and the shortest way to it, for messages.
func (p Place[W]) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s with %s, after", p.At, p.Facts)
	for _, on := range p.Path() {
		b.WriteByte(' ')
		b.WriteString(string(on))
	}
	return b.String()
}

type key[W comparable] struct {
	pair  Pair
	watch W
}

// walk is a breadth-first search: places in the order found, and how they were.
type walk[W comparable] struct {
	seen   map[key[W]]bool
	places []key[W]
	parent []int
	on     []Event
}

func (w *walk[W]) add(k key[W], parent int, on Event) {
	if w.seen[k] {
		return
	}
	w.seen[k] = true
	w.places = append(w.places, k)
	w.parent = append(w.parent, parent)
	w.on = append(w.on, on)
}

// Walk visits, breadth first, every (state, facts) pair that can be reached from at
// with those facts by any events. It returns how many it visited. An error of visit
// ends the walk and is returned with the shortest path to the pair.
func (m *Machine) Walk(at State, facts safety.Facts, visit func(Place[struct{}]) error) (int, error) {
	return Watch(m, []Pair{{at, facts}}, struct{}{}, func(w struct{}, _ Rule) struct{} { return w }, visit)
}

// Watch walks as Machine.Walk does, from several pairs at once, with a watcher: a
// value that every edge taken may change and that the table does not know. Two ways
// to one pair that leave the watcher with different values are both followed, so
// that a property of the history can be checked against the facts. A watcher must
// have few values.
func Watch[W comparable](m *Machine, from []Pair, watch W, next func(W, Rule) W, visit func(Place[W]) error) (int, error) {
	w := &walk[W]{seen: make(map[key[W]]bool)}
	for _, p := range from {
		if _, ok := m.at[p.At]; !ok {
			return 0, &UnknownState{At: p.At}
		}
		w.add(key[W]{p, watch}, -1, "")
	}
	for n := 0; n < len(w.places); n++ {
		k := w.places[n]
		place := Place[W]{Pair: k.pair, Watch: k.watch, walk: w, n: n}
		if err := visit(place); err != nil {
			return n + 1, fmt.Errorf("%s: %w", place, err)
		}
		for _, r := range m.at[k.pair.At].rules {
			if r.Lack(k.pair.Facts) != 0 {
				continue
			}
			w.add(key[W]{Pair{r.To, r.After(k.pair.Facts)}, next(k.watch, r)}, n, r.On)
		}
	}
	return len(w.places), nil
}
