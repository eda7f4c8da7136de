package quantity

import (
	"fmt"
	"math"
)

// Value returns one number for the reading in whole units: the geometric middle of
// Lo and Hi if both are above zero, otherwise the arithmetic one. Of a one-sided
// reading it is the bound. Open and OverRange give +Inf, Short gives 0, Unclear and
// an Unstable reading without numbers give NaN.
func (r Reading) Value() float64 {
	switch r.Class {
	case Open, OverRange:
		return math.Inf(1)
	case Short:
		return 0
	case Value, Unstable:
		if r.Class == Unstable && !r.numbered() {
			return math.NaN()
		}
		lo, hi := r.Lo.Float64(), r.Hi.Float64()
		switch {
		case lo == hi:
			return lo
		case lo > 0 && hi > 0:
			return math.Sqrt(lo) * math.Sqrt(hi)
		}
		return lo + (hi-lo)/2
	}
	return math.NaN()
}

// numbered reports whether an Unstable reading came with the numbers it moves between.
func (r Reading) numbered() bool { return r.Lo != Decimal{} || r.Hi != Decimal{} }

// Same reports whether two readings mean the same: everything but Text, with the
// numbers compared exactly, so that 12 and 12.0 are the same.
func (r Reading) Same(s Reading) bool {
	return r.Class == s.Class && r.Bound == s.Bound && r.Unit == s.Unit && r.Rough == s.Rough &&
		r.Lo.Cmp(s.Lo) == 0 && r.Hi.Cmp(s.Hi) == 0
}

// The names under which classes, bounds and units are stored. Append only.
var (
	classNames = [...]string{Unclear: "unclear", Value: "value", Open: "open", OverRange: "over range", Short: "short", Unstable: "unstable"}
	boundNames = [...]string{Exact: "exact", AtLeast: "at least", AtMost: "at most"}
	unitNames  = [...]string{NoUnit: "", Ohm: "ohm", Volt: "volt", Amp: "amp", Watt: "watt"}
)

// String returns the name under which the class is stored.
func (c Class) String() string { return nameOf(classNames[:], uint8(c)) }

// MarshalText implements encoding.TextMarshaler.
func (c Class) MarshalText() ([]byte, error) { return named(classNames[:], uint8(c), "class") }

// UnmarshalText implements encoding.TextUnmarshaler.
func (c *Class) UnmarshalText(text []byte) error {
	return indexOf(classNames[:], text, "class", (*uint8)(c))
}

// String returns the name under which the bound is stored.
func (b Bound) String() string { return nameOf(boundNames[:], uint8(b)) }

// MarshalText implements encoding.TextMarshaler.
func (b Bound) MarshalText() ([]byte, error) { return named(boundNames[:], uint8(b), "bound") }

// UnmarshalText implements encoding.TextUnmarshaler.
func (b *Bound) UnmarshalText(text []byte) error {
	return indexOf(boundNames[:], text, "bound", (*uint8)(b))
}

// String returns the name under which the unit is stored, empty for NoUnit.
func (u Unit) String() string { return nameOf(unitNames[:], uint8(u)) }

// MarshalText implements encoding.TextMarshaler.
func (u Unit) MarshalText() ([]byte, error) { return named(unitNames[:], uint8(u), "unit") }

// UnmarshalText implements encoding.TextUnmarshaler.
func (u *Unit) UnmarshalText(text []byte) error {
	return indexOf(unitNames[:], text, "unit", (*uint8)(u))
}

func nameOf(names []string, i uint8) string {
	if int(i) < len(names) {
		return names[i]
	}
	return fmt.Sprintf("%d?", i)
}

func named(names []string, i uint8, what string) ([]byte, error) {
	if int(i) >= len(names) {
		return nil, fmt.Errorf("quantity: no such %s: %d", what, i)
	}
	return []byte(names[i]), nil
}

func indexOf(names []string, text []byte, what string, to *uint8) error {
	for i, name := range names {
		if name == string(text) {
			*to = uint8(i)
			return nil
		}
	}
	return fmt.Errorf("quantity: no such %s: %q", what, text)
}
