package circuit

import (
	"errors"
	"fmt"
	"math/cmplx"
)

// ErrSingular says that an alternating-current network has no unique solution: a part
// of it floats, or it resonates without loss.
var ErrSingular = errors.New("circuit: network has no unique solution")

// AEdge is an admittance in siemens between two nodes, either of which may be Chassis.
type AEdge struct {
	A, B Node
	Y    complex128
}

// ASource is a voltage source in volts, positive at A, behind an impedance Z in ohms
// that must not be zero.
type ASource struct {
	A, B Node
	EMF  complex128
	Z    complex128
}

// Amps is the current in amperes that the source drives out of its A end, given the
// solution of SolvePhasor.
func (s ASource) Amps(volts []complex128) complex128 {
	return (s.EMF - voltsAcross(volts, s.A, s.B)) / s.Z
}

func voltsAcross(volts []complex128, a, b Node) complex128 {
	var v complex128
	if a != Chassis {
		v += volts[a]
	}
	if b != Chassis {
		v -= volts[b]
	}
	return v
}

// SolvePhasor returns the phasor voltage of every node against Chassis, in volts, for
// any admittances and sources. Gaussian elimination with partial pivoting on the dense
// nodal matrix: for small networks that are not those of a unit. The error is
// ErrSingular, or says which edge or source is out of range.
func SolvePhasor(nodes int, edges []AEdge, srcs []ASource) ([]complex128, error) {
	y := make([][]complex128, nodes)
	for i := range y {
		y[i] = make([]complex128, nodes+1)
	}
	stamp := func(a, b Node, g, amps complex128) {
		if a != Chassis {
			y[a][a] += g
			y[a][nodes] += amps
		}
		if b != Chassis {
			y[b][b] += g
			y[b][nodes] -= amps
		}
		if a != Chassis && b != Chassis {
			y[a][b] -= g
			y[b][a] -= g
		}
	}
	outside := func(v Node) bool { return v < Chassis || int(v) >= nodes }
	for i, e := range edges {
		if outside(e.A) || outside(e.B) || cmplx.IsNaN(e.Y) || cmplx.IsInf(e.Y) {
			return nil, fmt.Errorf("circuit: edge %d of %d: %+v is out of range", i, len(edges), e)
		}
		stamp(e.A, e.B, e.Y, 0)
	}
	for i, s := range srcs {
		if outside(s.A) || outside(s.B) || s.Z == 0 || cmplx.IsNaN(s.Z) || cmplx.IsNaN(s.EMF) {
			return nil, fmt.Errorf("circuit: source %d of %d: %+v is out of range", i, len(srcs), s)
		}
		stamp(s.A, s.B, 1/s.Z, s.EMF/s.Z)
	}
	return gauss(y)
}

// gauss solves a square system given with its right side as the last column, which it
// overwrites.
func gauss(m [][]complex128) ([]complex128, error) {
	n := len(m)
	for k := range n {
		best := k
		size := 0.0
		for i := k; i < n; i++ {
			if a := cmplx.Abs(m[i][k]); a > size {
				best, size = i, a
			}
		}
		if size == 0 {
			return nil, ErrSingular
		}
		m[k], m[best] = m[best], m[k]
		for i := k + 1; i < n; i++ {
			f := m[i][k] / m[k][k]
			if f == 0 {
				continue
			}
			for j := k + 1; j <= n; j++ {
				m[i][j] -= f * m[k][j]
			}
		}
	}
	x := make([]complex128, n)
	for k := n - 1; k >= 0; k-- {
		sum := m[k][n]
		for j := k + 1; j < n; j++ {
			sum -= m[k][j] * x[j]
		}
		x[k] = sum / m[k][k]
		if cmplx.IsNaN(x[k]) || cmplx.IsInf(x[k]) {
			return nil, ErrSingular
		}
	}
	return x, nil
}
