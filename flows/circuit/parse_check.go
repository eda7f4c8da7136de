package circuit

// checkCircuit is filled in below.
func (b *building) checkCircuit() {}
