package quantity

import (
	"cmp"
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// maxDigits is the number of decimal digits that always fit in Decimal.Coef.
const maxDigits = 18

// DecimalOf returns f rounded to the given number of significant digits (1 to 17),
// with the fewest digits that say so: DecimalOf(0.0400, 3) is 4×10^-2. Values of ten
// and more keep zeros down to their SI prefix, so that 470e3 prints as "470 k".
// Infinities and NaN have no decimal: they give zero.
func DecimalOf(f float64, digits int) Decimal {
	if math.IsNaN(f) || math.IsInf(f, 0) || f == 0 {
		return Decimal{}
	}
	digits = min(max(digits, 1), 17)
	mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(f, 'e', digits-1, 64), "e")
	whole, fraction, _ := strings.Cut(mantissa, ".")
	fraction = strings.TrimRight(fraction, "0")
	exp, err := strconv.Atoi(exponent)
	if err != nil {
		return Decimal{}
	}
	coef, err := strconv.ParseInt(whole+fraction, 10, 64)
	if err != nil {
		return Decimal{}
	}
	d := Decimal{Coef: coef, Exp: exp - len(fraction)}
	prefix := 0
	for prefix < 9 && exp >= prefix+3 {
		prefix += 3
	}
	for d.Exp > prefix && d.Exp <= prefix+3 && d.digits() < maxDigits {
		d.Coef *= 10
		d.Exp--
	}
	return d
}

// Float64 returns the nearest float64.
func (d Decimal) Float64() float64 {
	f, err := strconv.ParseFloat(strconv.FormatInt(d.Coef, 10)+"e"+strconv.Itoa(d.Exp), 64)
	if err != nil && !math.IsInf(f, 0) {
		return math.NaN()
	}
	return f
}

// String returns d in plain decimal notation with a point: "12.0", "2300000".
// Exponents beyond ±30 are written with an e.
func (d Decimal) String() string { return d.shifted(0) }

// shifted returns d × 10^-by in plain decimal notation.
func (d Decimal) shifted(by int) string {
	exp := d.Exp - by
	digits := strconv.FormatUint(d.magnitude(), 10)
	sign := ""
	if d.Coef < 0 {
		sign = "-"
	}
	switch {
	case exp > 30 || exp < -30:
		return sign + digits + "e" + strconv.Itoa(exp)
	case exp >= 0:
		if d.Coef == 0 {
			return "0"
		}
		return sign + digits + strings.Repeat("0", exp)
	}
	if short := 1 - exp - len(digits); short > 0 {
		digits = strings.Repeat("0", short) + digits
	}
	point := len(digits) + exp
	return sign + digits[:point] + "." + digits[point:]
}

// Cmp compares the numbers exactly: -1 if d < e, 0 if equal, +1 if d > e.
func (d Decimal) Cmp(e Decimal) int {
	if s := cmp.Compare(d.sign(), e.sign()); s != 0 || d.Coef == 0 {
		return s
	}
	order := d.sign()
	// The place of the first digit decides, unless it is the same.
	if s := cmp.Compare(d.Exp+d.digits(), e.Exp+e.digits()); s != 0 {
		return s * order
	}
	// Then the exponents differ by less than 19 and both fit in 128 bits.
	low := min(d.Exp, e.Exp)
	dh, dl := scaled(d.magnitude(), d.Exp-low)
	eh, el := scaled(e.magnitude(), e.Exp-low)
	if s := cmp.Compare(dh, eh); s != 0 {
		return s * order
	}
	return cmp.Compare(dl, el) * order
}

// scaled returns m × 10^by for by < 20.
func scaled(m uint64, by int) (hi, lo uint64) {
	ten := uint64(1)
	for range by {
		ten *= 10
	}
	return bits.Mul64(m, ten)
}

func (d Decimal) sign() int { return cmp.Compare(d.Coef, 0) }

func (d Decimal) magnitude() uint64 {
	if d.Coef < 0 {
		return -uint64(d.Coef)
	}
	return uint64(d.Coef)
}

// digits is the number of decimal digits of the coefficient, at least 1.
func (d Decimal) digits() int {
	n := 1
	for m := d.magnitude(); m >= 10; m /= 10 {
		n++
	}
	return n
}

func (d Decimal) neg() Decimal { return Decimal{Coef: -d.Coef, Exp: d.Exp} }

// plus adds exactly; ok is false if the sum does not fit.
func (d Decimal) plus(e Decimal) (sum Decimal, ok bool) {
	low := min(d.Exp, e.Exp)
	a, ok1 := d.withExp(low)
	b, ok2 := e.withExp(low)
	if !ok1 || !ok2 {
		return Decimal{}, false
	}
	return Decimal{Coef: a + b, Exp: low}, true
}

// withExp returns the coefficient that d has at the exponent low; ok is false if it
// has more than 18 digits.
func (d Decimal) withExp(low int) (coef int64, ok bool) {
	if d.Coef == 0 {
		return 0, true
	}
	if d.digits()+d.Exp-low > maxDigits {
		return 0, false
	}
	coef = d.Coef
	for range d.Exp - low {
		coef *= 10
	}
	return coef, true
}

// decimalFrom makes a Decimal of a run of ASCII digits before and after the point;
// ok is false if there are none, or too many to be exact.
func decimalFrom(whole, fraction string) (d Decimal, ok bool) {
	digits := whole + fraction
	significant := strings.TrimLeft(digits, "0")
	if digits == "" || len(significant) > maxDigits || len(digits) > 25 {
		return Decimal{}, false
	}
	if significant == "" {
		return Decimal{Exp: -len(fraction)}, true
	}
	coef, err := strconv.ParseInt(significant, 10, 64)
	if err != nil {
		return Decimal{}, false
	}
	return Decimal{Coef: coef, Exp: -len(fraction)}, true
}
