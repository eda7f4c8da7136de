package quantity

import (
	"math"
	"strconv"
	"strings"
)

// nbsp stands between a number and its unit (SI brochure, 9th edition, 5.4.3: a space;
// no-break so that a line never ends between them).
const nbsp = "\u00a0"

// minus is the sign written before negative numbers.
const minus = "\u2212"

var unitSymbols = [...]string{NoUnit: "", Ohm: "Ω", Volt: "V", Amp: "A", Watt: "W"}

func (u Unit) symbol() string {
	if int(u) < len(unitSymbols) {
		return unitSymbols[u]
	}
	return ""
}

// String returns about three significant digits with SI prefix: "0.3 Ω", "2.3 MΩ",
// "OL" for +Inf. Prefixes below one are not used on ohms: m is too easily read as M.
func (o Ohms) String() string { return short(float64(o), Ohm) }

// String returns about three significant digits with SI prefix: "208 V", "12 mV".
func (v Volts) String() string { return short(float64(v), Volt) }

// String returns about three significant digits with SI prefix: "3.1 A", "12 mA".
func (a Amps) String() string { return short(float64(a), Amp) }

// String returns about three significant digits with SI prefix: "700 W", "1.2 kW".
func (w Watts) String() string { return short(float64(w), Watt) }

// String returns about three significant digits: "3 min", "0.5 min".
func (m Minutes) String() string {
	f := float64(m)
	if math.IsNaN(f) || math.IsInf(f, 0) {
		return "? min"
	}
	return typeset(DecimalOf(f, 3).String()) + nbsp + "min"
}

// short formats f with three significant digits and the prefix that leaves one to
// three digits before the point.
func short(f float64, u Unit) string {
	switch {
	case math.IsInf(f, 1):
		return "OL"
	case math.IsNaN(f) || math.IsInf(f, -1):
		return "?" + nbsp + u.symbol()
	}
	d := DecimalOf(f, 3)
	by := 0
	if d.Coef != 0 {
		first := d.Exp + d.digits() - 1 // place of the first digit, after rounding
		switch {
		case first >= 9:
			by = 9
		case first >= 6:
			by = 6
		case first >= 3:
			by = 3
		case first >= -1 || u == Ohm:
		case first >= -4:
			by = -3
		default:
			by = -6
		}
	}
	return typeset(d.shifted(by)) + nbsp + prefixSymbol(by) + u.symbol()
}

func prefixSymbol(exp int) string {
	switch exp {
	case -6:
		return "µ"
	case -3:
		return "m"
	case 3:
		return "k"
	case 6:
		return "M"
	case 9:
		return "G"
	}
	return ""
}

func typeset(number string) string { return strings.Replace(number, "-", minus, 1) }

// String says back exactly what was understood: "2.3 MΩ", "OL", "more than 40 MΩ",
// "about 70 Ω", "unstable", "3 to 4 Ω". All digits that were typed are in it. For a
// reading that Parse returned, Parse of it with the same unit gives it again.
func (r Reading) String() string {
	switch r.Class {
	case Open, OverRange:
		return "OL"
	case Short:
		return "short"
	case Unstable:
		if r.numbered() {
			return "unstable, " + r.numbers()
		}
		return "unstable"
	case Value:
		return r.numbers()
	}
	return "unclear"
}

func (r Reading) numbers() string {
	var b strings.Builder
	switch r.Bound {
	case AtLeast:
		b.WriteString("more than ")
	case AtMost:
		b.WriteString("less than ")
	}
	if r.Rough {
		b.WriteString("about ")
	}
	lo, hi := r.prefix(r.Lo), r.prefix(r.Hi)
	if r.Lo != r.Hi {
		b.WriteString(typeset(r.Lo.shifted(lo)))
		if lo != hi {
			b.WriteString(r.suffix(lo))
		}
		b.WriteString(" to ")
	}
	b.WriteString(typeset(r.Hi.shifted(hi)))
	b.WriteString(r.suffix(hi))
	return b.String()
}

func (r Reading) suffix(prefix int) string {
	s := prefixSymbol(prefix) + r.Unit.symbol()
	if s == "" {
		return ""
	}
	return nbsp + s
}

// prefix picks the smallest SI prefix at which d needs no further zeros, so that the
// digits shown are the digits typed. Mega and more are for ohms only.
func (r Reading) prefix(d Decimal) int {
	switch {
	case d.Coef == 0:
		return 0
	case d.Exp > 3 && r.Unit != Ohm: // M is in doubt on volts, amps and watts
		return 3
	case d.Exp > 6:
		return 9
	case d.Exp > 3:
		return 6
	case d.Exp > 0:
		return 3
	}
	first := d.Exp + d.digits() - 1
	small := r.Unit == Volt || r.Unit == Amp || r.Unit == Watt
	switch {
	case small && first < -3 && d.Exp <= -6:
		return -6
	case small && first < 0 && d.Exp <= -3:
		return -3
	}
	return 0
}

// quoted is the text of a doubt, short enough to be said back.
func quoted(text string) string {
	const longest = 60
	text = strings.TrimSpace(text)
	n := 0
	for i := range text {
		if n == longest {
			return text[:i] + "…"
		}
		n++
	}
	return text
}

// plainInt reports whether s is a run of ASCII digits, at most four: a wire number.
func plainInt(s string) bool {
	n, err := strconv.Atoi(s)
	return err == nil && n >= 0 && len(s) <= 4 && s[0] != '+' && s[0] != '-'
}
