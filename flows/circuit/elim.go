package circuit

import (
	"math"
	"slices"
)

// order is the symbolic half of star-mesh elimination: the order in which nodes go,
// and which pairs of the nodes that are left are joined when one goes. It depends
// only on which nodes are ever joined, so one order serves every state and fault of a
// unit. Immutable.
//
// The diagonal is never stored. When node k goes, with d = leak + Σa over the nodes
// it is still joined to, its star becomes a mesh: a_ij += (a_i/d)·a_j, and its leak to
// the reference is shared out in the same way. All numbers are non-negative and are
// only added, multiplied and divided, so no digits are ever lost by cancellation,
// however far apart the conductances lie.
type order struct {
	n    int
	at   []int32 // node -> position in the order
	node []int32 // position -> node
	ptr  []int32 // rows[ptr[k]:ptr[k+1]] are the later positions joined to position k
	rows []int32 // ascending within a position; the first is the parent in the tree
	into []int32 // slot that each product a_i·a_j of the elimination goes to, in turn
}

// newOrder finds a minimum-degree order for n nodes joined as given; equal degrees go
// by lowest node. Pairs must be of two different nodes within 0..n-1.
func newOrder(n int, pairs [][2]int32) *order {
	adj := make([][]int32, n)
	for _, p := range pairs {
		adj[p[0]] = append(adj[p[0]], p[1])
		adj[p[1]] = append(adj[p[1]], p[0])
	}
	for i := range adj {
		slices.Sort(adj[i])
		adj[i] = slices.Compact(adj[i])
	}
	o := &order{n: n, at: make([]int32, n), node: make([]int32, n), ptr: make([]int32, n+1)}
	gone := make([]bool, n)
	later := make([][]int32, n)
	for k := range n {
		best := -1
		for v := range n {
			if !gone[v] && (best < 0 || len(adj[v]) < len(adj[best])) {
				best = v
			}
		}
		gone[best] = true
		o.at[best], o.node[k] = int32(k), int32(best)
		later[k] = adj[best]
		for _, v := range adj[best] {
			adj[v] = union(adj[v], adj[best], v, int32(best))
		}
	}
	for k := range n {
		for i, v := range later[k] {
			later[k][i] = o.at[v]
		}
		slices.Sort(later[k])
		o.rows = append(o.rows, later[k]...)
		o.ptr[k+1] = int32(len(o.rows))
	}
	for k := range n {
		r := o.below(k)
		for i := range r {
			for _, j := range r[i+1:] {
				o.into = append(o.into, o.slot(r[i], j))
			}
		}
	}
	return o
}

// union merges two ascending lists, leaving out the two given members.
func union(a, b []int32, without1, without2 int32) []int32 {
	out := make([]int32, 0, len(a)+len(b))
	i, j := 0, 0
	for i < len(a) || j < len(b) {
		var v int32
		switch {
		case j == len(b) || i < len(a) && a[i] < b[j]:
			v, i = a[i], i+1
		case i == len(a) || b[j] < a[i]:
			v, j = b[j], j+1
		default:
			v, i, j = a[i], i+1, j+1
		}
		if v != without1 && v != without2 {
			out = append(out, v)
		}
	}
	return out
}

func (o *order) below(k int) []int32 { return o.rows[o.ptr[k]:o.ptr[k+1]] }

// parent of a position in the elimination tree, -1 for a root.
func (o *order) parent(k int32) int32 {
	if o.ptr[k] == o.ptr[k+1] {
		return -1
	}
	return o.rows[o.ptr[k]]
}

// slot is where the conductance between positions i < j is kept. The pair must be one
// of the order.
func (o *order) slot(i, j int32) int32 {
	p, _ := slices.BinarySearch(o.rows[o.ptr[i]:o.ptr[i+1]], j)
	return o.ptr[i] + int32(p)
}

// slotOf is slot for two nodes in any order.
func (o *order) slotOf(a, b int32) int32 {
	i, j := o.at[a], o.at[b]
	if i > j {
		i, j = j, i
	}
	return o.slot(i, j)
}

// factor eliminates every node. On entry a holds the conductances by slot and leak
// those to the reference by position, all at least 0 and every island with a leak. On
// return a holds the multipliers l = a/d, and root[k] is 1/√d.
func (o *order) factor(a, leak, root []float64) {
	next := 0
	for k := range o.n {
		lo, hi := int(o.ptr[k]), int(o.ptr[k+1])
		col := a[lo:hi]
		d := leak[k]
		for _, g := range col {
			d += g
		}
		root[k] = 1 / math.Sqrt(d)
		inv := 1 / d
		rows := o.rows[lo:hi]
		lk := leak[k]
		for i, g := range col {
			l := g * inv
			if l == 0 { // an open edge: nothing to share out
				next += len(col) - i - 1
				col[i] = 0
				continue
			}
			into := o.into[next : next+len(col)-i-1]
			next += len(into)
			for j, s := range into {
				a[s] += l * col[i+1+j]
			}
			leak[rows[i]] += l * lk
			col[i] = l
		}
	}
}

// climb moves the lower of two positions to its parent and returns it as it was; either
// may be -1, but not both. Repeated, it visits both paths to the root in ascending order.
func (o *order) climb(p, q int32) (int32, int32, int32) {
	switch {
	case p == q:
		up := o.parent(p)
		return up, up, p
	case q < 0 || p >= 0 && p < q:
		return o.parent(p), q, p
	default:
		return p, o.parent(q), q
	}
}
