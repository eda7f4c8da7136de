package isolate

import (
	"cmp"
	"math"
	"slices"
	"sync"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// Model joins belief and plan to the circuit of one unit. It is safe for several
// goroutines; what it keeps is a cache that never changes an answer.
type Model struct {
	net   *circuit.Network
	unit  *circuit.Unit
	items []circuit.Item
	vars  []variant
	soft  []softPart
	cost  Cost

	neutral circuit.Bits // wire ends of the neutral

	worksOnce sync.Once
	works     []circuit.Bits // of each variant: the parts that work with the unit switched on

	mu    sync.Mutex
	views map[circuit.State]*view
	order []circuit.State // of views, oldest first
	keep  int             // most views kept
}

// softPart is an element whose resistance is known only within a tolerance.
type softPart struct {
	a, b circuit.Node
	part circuit.PartID
	elem int
	sd   float64 // of the logarithm, in octaves
	g    float64 // siemens
}

// viewsKept bounds the cache: one view is a factor and its rows, some 100 kB for a
// unit of 15 parts.
const viewsKept = 400

// New builds the model of a network. It computes once which faults make the breaker go
// at once.
func New(net *circuit.Network) *Model {
	u := net.Unit()
	m := &Model{net: net, unit: u, cost: costOf(u.Minutes), views: make(map[circuit.State]*view), keep: viewsKept}
	m.neutral = m.neutrals()
	index := make(map[circuit.Item]int)
	for _, f := range circuit.AllFaults(u) {
		it := u.Item(f)
		i, ok := index[it]
		if !ok {
			i = len(m.items)
			index[it] = i
			m.items = append(m.items, it)
		}
		rate := m.rate(f)
		ohms := 0.0
		if f.Part != circuit.None {
			ohms = float64(u.Parts[f.Part].Elems[f.Elem].Ohms.Nominal)
		}
		for _, v := range spreadFaults(f, ohms) {
			v.item = i
			v.rate *= rate
			m.vars = append(m.vars, v)
		}
	}
	on, rest, coil := switchedOn(u)
	m.trips(on, func(v *variant) *float64 { return &v.on })
	m.trips(rest, func(v *variant) *float64 { return &v.off })
	m.trips(coil, func(v *variant) *float64 { return &v.coil })
	// Those that matter for a trip come first, so that what is computed for them lies
	// together.
	slices.SortStableFunc(m.vars, func(a, b variant) int {
		return cmp.Compare(b2i(b.on+b.off+b.coil > 0), b2i(a.on+a.off+a.coil > 0))
	})
	for p, part := range u.Parts {
		for e, el := range part.Elems {
			if el.Role != circuit.Resist || el.Ohms.Lo <= 0 || el.Ohms.Hi <= el.Ohms.Lo {
				continue
			}
			m.soft = append(m.soft, softPart{
				a: net.Term(el.A), b: net.Term(el.B), part: circuit.PartID(p), elem: e,
				sd: math.Log2(float64(el.Ohms.Hi/el.Ohms.Lo)) / 4,
				g:  1 / float64(el.Ohms.Nominal),
			})
		}
	}
	return m
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// trips fills in the chance that the breaker goes at once in an energised state. The
// sizes of one fault at one place come smallest first, and a larger one draws less:
// after the first that does not trip, the rest need not be solved.
func (m *Model) trips(s circuit.State, put func(*variant) *float64) {
	for i := range m.vars {
		v := &m.vars[i]
		if i > 0 {
			w := &m.vars[i-1]
			if v.Fault == w.Fault && v.At == w.At && v.Ohms > w.Ohms && *put(w) == 0 {
				continue
			}
		}
		multiple, err := m.net.AtOnce(s, []circuit.Placed{v.Placed})
		if err != nil {
			continue // it has no place in the unit, so it explains nothing
		}
		*put(v) = goesAtOnce(multiple)
	}
}

// Unit returns the unit the model is of.
func (m *Model) Unit() *circuit.Unit { return m.unit }

// Network returns the network the model is of.
func (m *Model) Network() *circuit.Network { return m.net }

// rate is the relative rate of a fault, raised by the unit's own history.
func (m *Model) rate(f circuit.Fault) float64 {
	if f.Wire != circuit.None {
		return circuit.WireEndRate(m.unit, f.Wire, f.Mode, f.End)
	}
	part := &m.unit.Parts[f.Part]
	r := circuit.Rate(part.Kind, part.Elems[f.Elem], f.Mode)
	for _, h := range m.unit.History {
		if h.Part == f.Part && h.Mode == f.Mode {
			// Each earlier find weighs like a third of the rate itself.
			r *= 1 + float64(h.Count)/3
		}
	}
	return r
}

// view is what a meter would show in one state: its factor, and for each pair of
// points the sound reading and that under every variant.
type view struct {
	m      *Model
	state  circuit.State
	solved *circuit.Solved

	softOnce sync.Once
	softAt   []circuit.Half
	blocks   []block // of the variants, blockSize each

	mu   sync.Mutex
	rows map[pair]*row
	hard map[int]*circuit.Solved // variants that must be refactored
}

// blockSize is how many variants are prepared at a time.
const blockSize = 64

// block is what a run of variants does in one state, prepared when first asked for.
type block struct {
	once    sync.Once
	change  []circuit.Change
	kind    []changeKind
	port    []circuit.Half
	self    []float64   // u'Zu of each variant
	softSee [][]float64 // [variant][soft] u'Z e_k
}

type changeKind uint8

const (
	asSound changeKind = iota // makes no difference in this state
	asPort
	asRefactor
)

type pair struct{ a, b circuit.Node }

// row is one pair of points in one state.
type row struct {
	sound  expected
	mu     sync.Mutex
	faulty [][]expected // by block; plan 0 means not computed
	h      circuit.Half
	vk     []float64 // v'Z e_k
}

// at returns the view of a state.
func (m *Model) at(s circuit.State) *view {
	s = electrical(s)
	m.mu.Lock()
	defer m.mu.Unlock()
	if v, ok := m.views[s]; ok {
		return v
	}
	v := &view{m: m, state: s, solved: m.net.Dead(s), rows: make(map[pair]*row), hard: make(map[int]*circuit.Solved),
		blocks: make([]block, (len(m.vars)+blockSize-1)/blockSize)}
	m.views[s] = v
	m.order = append(m.order, s)
	if len(m.order) > m.keep {
		delete(m.views, m.order[0])
		m.order = slices.Delete(m.order, 0, 1)
	}
	return v
}

// electrical drops from a state what makes no difference to a dead reading.
func electrical(s circuit.State) circuit.State {
	s.Off = ""
	s.Held = ""
	return s
}

// soft prepares the half-columns of the parts with tolerances.
func (v *view) soft() []circuit.Half {
	v.softOnce.Do(func() {
		v.softAt = make([]circuit.Half, len(v.m.soft))
		for k, s := range v.m.soft {
			v.softAt[k] = v.solved.Half(s.a, s.b)
		}
	})
	return v.softAt
}

// block returns what the run of variants with variant i does in this state, and the
// index of i in it.
func (v *view) block(i int) (*block, int) {
	b := &v.blocks[i/blockSize]
	b.once.Do(func() { v.prepare(b, i/blockSize*blockSize) })
	return b, i % blockSize
}

func (v *view) prepare(b *block, first int) {
	soft := v.soft()
	n := min(blockSize, len(v.m.vars)-first)
	b.change = make([]circuit.Change, n)
	b.kind = make([]changeKind, n)
	b.port = make([]circuit.Half, n)
	b.self = make([]float64, n)
	b.softSee = make([][]float64, n)
	for i := range n {
		c, ok := v.m.net.Change(v.state, v.m.vars[first+i].Placed)
		b.change[i] = c
		switch {
		case ok:
			b.kind[i] = asPort
		case c.Idle():
			b.kind[i] = asSound
			continue
		default:
			b.kind[i] = asRefactor
			continue
		}
		if i > 0 && b.kind[i-1] == asPort && samePort(c, b.change[i-1]) {
			b.port[i], b.self[i], b.softSee[i] = b.port[i-1], b.self[i-1], b.softSee[i-1]
			continue
		}
		b.port[i] = v.solved.HalfOf(c)
		b.self[i] = circuit.Dot(b.port[i], b.port[i])
		see := make([]float64, len(soft))
		for k := range see {
			see[k] = circuit.Dot(b.port[i], soft[k])
		}
		b.softSee[i] = see
	}
}

// idle reports whether a variant makes no difference in this state.
func (v *view) idle(i int) bool {
	b, k := v.block(i)
	return b.kind[k] == asSound
}

func samePort(a, b circuit.Change) bool {
	return a.A == b.A && a.B == b.B && a.WA == b.WA && a.WB == b.WB
}

// row returns the readings between two points.
func (v *view) row(a, b circuit.Node) *row {
	soft := v.soft()
	if a < b { // the larger first, so that the frame is always second
		a, b = b, a
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	if r, ok := v.rows[pair{a, b}]; ok {
		return r
	}
	r := &row{h: v.solved.Half(a, b), faulty: make([][]expected, len(v.blocks))}
	r.vk = make([]float64, len(soft))
	for k := range r.vk {
		r.vk[k] = circuit.Dot(r.h, soft[k])
	}
	ohms := float64(r.h.Ohms())
	r.sound = expected{ohms: ohms, spread: v.m.softness(r.vk, nil, 0, ohms)}.planned()
	v.rows[pair{a, b}] = r
	return r
}

// softness is the standard deviation in octaves that the tolerances of the parts put on
// a reading: the share of the power in a part is how much of its tolerance shows.
// see and factor take the change that a fault makes to the voltages into account.
func (m *Model) softness(vk, see []float64, factor, ohms float64) float64 {
	if ohms <= 0 || math.IsInf(ohms, 1) {
		return 0
	}
	sum := 0.0
	for k := range m.soft {
		volts := vk[k]
		if see != nil {
			volts -= factor * see[k]
		}
		share := math.Min(1, m.soft[k].g*volts*volts/ohms)
		sum += share * share * m.soft[k].sd * m.soft[k].sd
	}
	return math.Sqrt(sum)
}

// under returns the reading of a row under a variant.
func (v *view) under(r *row, a, b circuit.Node, i int) expected {
	r.mu.Lock()
	defer r.mu.Unlock()
	return v.underLocked(r, a, b, i)
}

// underLocked is under with r.mu held.
func (v *view) underLocked(r *row, a, b circuit.Node, i int) expected {
	at := r.faulty[i/blockSize]
	if at == nil {
		at = make([]expected, min(blockSize, len(v.m.vars)-i/blockSize*blockSize))
		r.faulty[i/blockSize] = at
	}
	e := &at[i%blockSize]
	if e.plan[0] == 0 {
		*e = v.compute(r, a, b, i).planned()
	}
	return *e
}

func (v *view) compute(r *row, a, b circuit.Node, i int) expected {
	bl, k := v.block(i)
	switch bl.kind[k] {
	case asSound:
		return r.sound
	case asPort:
		ohms, ok := v.solved.Under(r.h, bl.change[k], bl.port[k])
		if ok {
			reach := circuit.Dot(r.h, bl.port[k])
			factor := reach / (bl.change[k].Inv + bl.self[k])
			e := expected{ohms: float64(ohms), spread: v.m.softness(r.vk, bl.softSee[k], factor, float64(ohms))}
			return smear(r.sound, e)
		}
	}
	v.mu.Lock()
	solved, ok := v.hard[i]
	if !ok {
		var err error
		solved, err = v.m.net.DeadUnder(v.state, []circuit.Placed{v.m.vars[i].Placed}, nil)
		if err != nil {
			solved = v.solved // a fault that has no place in the unit changes nothing
		}
		v.hard[i] = solved
	}
	v.mu.Unlock()
	h := solved.Half(a, b)
	ohms := float64(h.Ohms())
	vk := make([]float64, len(v.m.soft))
	for k, s := range v.m.soft {
		vk[k] = circuit.Dot(h, solved.Half(s.a, s.b))
	}
	return smear(r.sound, expected{ohms: ohms, spread: v.m.softness(vk, nil, 0, ohms)})
}

// smear widens a reading that the fault shapes by the gaps of the grid.
func smear(sound, e expected) expected {
	if e.ohms >= noPath || sound.ohms < noPath && math.Abs(scale(sound.ohms)-scale(e.ohms)) < 0.05 {
		return e
	}
	e.spread = math.Sqrt(e.spread*e.spread + spreadFault*spreadFault)
	return e
}

// Sound returns what a sound unit reads at a test: the band of two standard deviations
// and the nominal value; +Inf for no path.
func (m *Model) Sound(t Test) (lo, nominal, hi quantity.Ohms) {
	r := m.at(t.In).row(t.A, t.B)
	if r.sound.ohms >= noPath {
		inf := quantity.Ohms(math.Inf(1))
		return noPath, inf, inf
	}
	sd := r.sound.sdAt(leadsKnown)
	mid := scale(r.sound.ohms)
	lo = quantity.Ohms(math.Max(0, math.Exp2(mid-2*sd)-floor))
	hi = quantity.Ohms(math.Exp2(mid+2*sd) - floor)
	return lo, quantity.Ohms(r.sound.ohms), hi
}
