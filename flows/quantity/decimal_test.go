package quantity_test

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	. "halfsplit/flows/quantity"
)

// rat is the number that d stands for, by the standard library's exact rationals.
func rat(d Decimal) *big.Rat {
	p := new(big.Rat).SetInt(new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(d.Exp, -d.Exp))), nil))
	if d.Exp < 0 {
		p.Inv(p)
	}
	return p.Mul(p, new(big.Rat).SetInt64(d.Coef))
}

func TestDecimalAgainstRationals(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	draw := func() Decimal {
		c := int64(rng.Uint64()) >> rng.IntN(64)
		return Decimal{Coef: c, Exp: rng.IntN(45) - 22}
	}
	for range 20000 {
		a, b := draw(), draw()
		if rng.IntN(3) == 0 { // often nearly or exactly equal
			b = Decimal{Coef: a.Coef/10 + int64(rng.IntN(2)), Exp: a.Exp + 1}
		}
		require.Equal(t, rat(a).Cmp(rat(b)), a.Cmp(b), "%+v %+v", a, b)
		f, _ := rat(a).Float64()
		require.Equal(t, f, a.Float64(), "%+v", a)
		back, ok := new(big.Rat).SetString(a.String())
		require.True(t, ok, a.String())
		require.Zero(t, back.Cmp(rat(a)), "%+v printed as %s", a, a)
	}
	for _, d := range []Decimal{{Coef: math.MinInt64}, {Coef: math.MaxInt64, Exp: 12}, {Coef: math.MinInt64, Exp: -400}, {Coef: 1, Exp: 1 << 40}} {
		assert.Zero(t, d.Cmp(d))
		assert.Equal(t, 1, Decimal{Coef: 1, Exp: 1<<40 + 1}.Cmp(d))
	}
}

func TestDecimalString(t *testing.T) {
	for want, d := range map[string]Decimal{
		"12.0": {Coef: 120, Exp: -1}, "2300000": {Coef: 23, Exp: 5}, "0.47": {Coef: 47, Exp: -2}, "-0.04": {Coef: -4, Exp: -2}, "0": {}, "0.0": {Exp: -1},
	} {
		assert.Equal(t, want, d.String())
	}
}

func TestDecimalOf(t *testing.T) {
	for _, tt := range []struct {
		f      float64
		digits int
		want   Decimal
	}{
		{12, 3, Decimal{Coef: 12}}, {120, 3, Decimal{Coef: 120}}, {0.04, 3, Decimal{Coef: 4, Exp: -2}}, {470e3, 3, Decimal{Coef: 470, Exp: 3}},
		{2.3e6, 3, Decimal{Coef: 23, Exp: 5}}, {1234, 3, Decimal{Coef: 123, Exp: 1}}, {999.6, 3, Decimal{Coef: 1, Exp: 3}}, {-12.34, 3, Decimal{Coef: -123, Exp: -1}},
		{0, 3, Decimal{}}, {math.NaN(), 3, Decimal{}}, {math.Inf(1), 3, Decimal{}}, {1.0 / 3, 17, Decimal{Coef: 33333333333333331, Exp: -17}},
	} {
		assert.Equal(t, tt.want, DecimalOf(tt.f, tt.digits), "%v", tt.f)
	}
}
