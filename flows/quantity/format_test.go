package quantity_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	. "halfsplit/flows/quantity"
)

// SI brochure, 9th edition (BIPM 2019), 5.4.3 and 3: a space between number and unit,
// the prefix joined to the unit, one prefix at most; 5.4.4: a zero before the decimal
// marker.
func TestFormat(t *testing.T) {
	inf := math.Inf(1)
	for _, tt := range []struct {
		q    fmt.Stringer
		want string
	}{
		{Ohms(12), "12 Ω"}, {Ohms(0.3), "0.3 Ω"}, {Ohms(2.3e6), "2.3 MΩ"}, {Ohms(470e3), "470 kΩ"}, {Ohms(inf), "OL"}, {Ohms(0), "0 Ω"},
		{Ohms(1234), "1.23 kΩ"}, {Ohms(999.6), "1 kΩ"}, {Ohms(999.4), "999 Ω"}, {Ohms(0.012), "0.012 Ω"}, {Ohms(2e9), "2 GΩ"}, {Ohms(120), "120 Ω"}, {Ohms(61.8), "61.8 Ω"},
		{Volts(208), "208 V"}, {Volts(-12), "\u221212 V"}, {Volts(0.012), "12 mV"}, {Volts(0.3), "0.3 V"}, {Volts(120.04), "120 V"}, {Volts(inf), "OL"},
		{Amps(3.1), "3.1 A"}, {Amps(0.03), "30 mA"}, {Amps(5e-6), "5 µA"}, {Watts(1200), "1.2 kW"}, {Watts(700), "700 W"},
		{Minutes(3), "3 min"}, {Minutes(0.5), "0.5 min"}, {Minutes(90), "90 min"},
	} {
		assert.Equal(t, tt.want, plain(tt.q.String()))
	}
	assert.Equal(t, "12\u00a0Ω", Ohms(12).String())
}

// What the bot says for any quantity is read as that quantity, to the three digits said.
func TestFormatThenParse(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	check := func(q fmt.Stringer, f float64, u Unit) {
		t.Helper()
		r, d := Parse(q.String(), Want{Unit: u})
		require.Nil(t, d, "%q: %+v", q.String(), d)
		require.InEpsilon(t, f, r.Value(), 0.005, q.String())
		require.Zero(t, r.Lo.Cmp(DecimalOf(f, 3)), q.String())
	}
	for range 5000 {
		f := math.Pow(10, rng.Float64()*14-4) // 0.1 mΩ to 10 GΩ
		check(Ohms(f), f, Ohm)
		f = math.Pow(10, rng.Float64()*8-5) // 10 µV to 1 kV
		check(Volts(f), f, Volt)
		check(Amps(f), f, Amp)
		check(Watts(f), f, Watt)
	}
}

// Readings built in any way, not only by Parse, are said so that they are read again.
func TestReadingStringThenParse(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 20000 {
		u := Unit(1 + rng.IntN(4))
		r := Reading{Unit: u, Class: []Class{Value, Value, Value, Value, Open, Short, Unstable}[rng.IntN(7)]}
		switch r.Class {
		case Open:
			if u != Ohm {
				r.Class = OverRange
			}
		case Short:
			r.Unit = Ohm
		case Value:
			r.Lo = DecimalOf(math.Pow(10, rng.Float64()*12-3), 1+rng.IntN(5))
			r.Hi = r.Lo
			r.Rough = rng.IntN(3) == 0
			if r.Bound = Bound(rng.IntN(4) % 3); r.Bound == Exact && rng.IntN(3) == 0 {
				r.Hi = DecimalOf(r.Lo.Float64()*(1.5+10*rng.Float64()), 3)
			}
		}
		again, d := Parse(r.String(), Want{Unit: r.Unit})
		require.Nil(t, d, "%q %+v", r.String(), r)
		require.True(t, again.Same(r), "%q: %+v became %+v", r.String(), r, again)
	}
}

func TestReadingValue(t *testing.T) {
	value := func(text string) float64 {
		r, d := Parse(text, ohms)
		require.Nil(t, d, text)
		return r.Value()
	}
	assert.Equal(t, 12.0, value("12"))
	assert.InDelta(t, 20, value("10 to 40"), 1e-9) // √(10·40)
	assert.Equal(t, 2.0, value("0 to 4"))
	assert.Equal(t, 40e6, value(">40M"))
	assert.True(t, math.IsInf(value("OL"), 1))
	assert.Zero(t, value("dead short"))
	assert.True(t, math.IsNaN(value("jumping around")))
	assert.True(t, math.IsNaN(Reading{}.Value()))
}
