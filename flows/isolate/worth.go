package isolate

// Worth is how many bits a reading of somebody's own choice would tell, on average, about
// which item is to blame. It is on the scale of Choice.Gain.
func (m *Model) Worth(b *Belief, t Test) float64 {
	w := m.workOf(b)
	var g gains
	var rows planRows
	return g.of(w.weights, w.class, w.classes, rows.of(m, b, t, w), planOutcomes)
}
