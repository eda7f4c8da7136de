package quantity

import "strings"

// longestText is the longest text, in bytes, that is looked at.
const longestText = 2000

// Parse reads one reading. Exactly one of its results is usable: a Reading whose Class
// is not Unclear, or a Doubt.
//
// Understood are numbers with point or comma, SI prefixes, letter codes after IEC 60062
// (4K7, R47), fractions, number words, ranges, bounds, and the words and displays for
// open, over range, short and unstable. Every character must have a meaning: a text
// with anything else in it is asked back. Without a unit in the text or in want, the
// reading has none, except that a letter code or a mega is ohms.
func Parse(text string, want Want) (Reading, *Doubt) {
	trimmed := strings.TrimSpace(text)
	if len(text) > longestText {
		return Reading{}, &Doubt{Code: NotANumber, Text: quoted(text)}
	}
	r, d := parseTokens(scan(normalise(trimmed)), want)
	return finish(r, d, trimmed)
}

func finish(r Reading, d *Doubt, text string) (Reading, *Doubt) {
	if d != nil {
		d.Text = quoted(text)
		for i := range d.Options {
			d.Options[i].Text = text
		}
		return Reading{}, d
	}
	r.Text = text
	return r, nil
}

func doubt(code DoubtCode, options ...Reading) *Doubt { return &Doubt{Code: code, Options: options} }

func parseTokens(all []token, want Want) (Reading, *Doubt) {
	toks, unsure := trim(all)
	if len(toks) == 0 {
		return Reading{}, doubt(NotANumber)
	}
	// "no reading" before "reading" is taken off as a filler.
	kind, s := phraseOf(unmarked(all))
	if kind == noPhrase {
		kind, s = phraseOf(toks)
	}
	if kind != noPhrase {
		r, d := phraseReading(kind, s, want)
		if d == nil && unsure {
			return Reading{}, doubt(NotANumber, r)
		}
		return r, d
	}
	if rest, ok := movement(all); ok {
		return unstableReading(rest, want)
	}
	r, d := numberReading(toks, want)
	if d == nil && unsure {
		r.Rough = true
	}
	return r, d
}

// unitOr returns the typed unit, or the wanted one if none was typed.
func unitOr(typed Unit, want Want) Unit {
	if typed != NoUnit {
		return typed
	}
	return want.Unit
}

func phraseReading(kind phraseKind, s suffix, want Want) (Reading, *Doubt) {
	u := unitOr(s.unit, want)
	onOhms := u == Ohm || u == NoUnit
	if s.foreign {
		return Reading{}, doubt(WrongUnit)
	}
	if s.unit != NoUnit && want.Unit != NoUnit && s.unit != want.Unit {
		return Reading{}, doubt(WrongUnit, beyond(s.unit))
	}
	zero := Reading{Class: Value, Unit: u}
	switch kind {
	case display:
		return beyond(u), nil
	case noPath, path:
		r := Reading{Class: Open, Unit: u}
		if kind == path {
			r.Class = Short
		}
		if !onOhms {
			r.Unit = Ohm
			return Reading{}, doubt(WrongUnit, r)
		}
		return r, nil
	case moving:
		return Reading{Class: Unstable, Unit: u}, nil
	case dashes:
		if u == Ohm {
			return beyond(u), nil
		}
		return Reading{}, doubt(NotANumber, beyond(u))
	case nothing:
		if onOhms {
			return Reading{}, doubt(Nothing, beyond(u), zero)
		}
		return Reading{}, doubt(Nothing, zero, beyond(u))
	case noBeep:
		if !onOhms {
			return Reading{}, doubt(WrongUnit)
		}
		return Reading{}, doubt(Nothing, beyond(u))
	}
	return Reading{}, doubt(NotANumber, beyond(u))
}

// beyond is what OL means on a unit.
func beyond(u Unit) Reading {
	if u == Ohm || u == NoUnit {
		return Reading{Class: Open, Unit: u}
	}
	return Reading{Class: OverRange, Unit: u}
}

func unstableReading(rest []token, want Want) (Reading, *Doubt) {
	if len(rest) == 0 {
		return Reading{Class: Unstable, Unit: want.Unit}, nil
	}
	// "jumping between 3 and 40", "jumping 3 40" are not settled further.
	toks := make([]token, len(rest))
	copy(toks, rest)
	for i := range toks {
		if toks[i].lower == "and" {
			toks[i] = token{kind: word, text: "to", lower: "to"}
		}
	}
	if r, d := numberReading(toks, want); d == nil {
		r.Class, r.Bound, r.Rough = Unstable, Exact, false
		return r, nil
	} else if d.Code == WrongUnit {
		return Reading{}, d
	}
	return Reading{}, doubt(NotANumber, Reading{Class: Unstable, Unit: want.Unit})
}

// amount is one number with what follows it.
type amount struct {
	d, grouped Decimal
	ambiguous  bool // d or grouped
	bare       bool // digits only: "1"
	coded      bool // IEC 60062
	negative   bool
	suffix
}

// candidates lists what the amount may be, most likely first.
func (a amount) candidates(u Unit) []Decimal {
	exps := []int{a.exp}
	if a.m {
		exps = []int{-3, 6}
		if u == Ohm || u == NoUnit {
			exps = []int{6, -3}
		}
	}
	var out []Decimal
	for _, exp := range exps {
		for i, d := range [2]Decimal{a.d, a.grouped} {
			if i == 1 && !a.ambiguous {
				break
			}
			d.Exp += exp
			if a.negative {
				d = d.neg()
			}
			out = append(out, d)
		}
	}
	return out
}

// settle decides between candidates: the only one there is, or the only one in the band.
func (w Want) settle(ds []Decimal) (Decimal, bool) {
	if len(ds) == 1 {
		return ds[0], true
	}
	inside := -1
	for i, d := range ds {
		if w.holds(d.Float64()) {
			if inside >= 0 {
				return Decimal{}, false
			}
			inside = i
		}
	}
	if inside < 0 {
		return Decimal{}, false
	}
	return ds[inside], true
}

func (w Want) holds(f float64) bool { return (w.Lo != 0 || w.Hi != 0) && f >= w.Lo && f <= w.Hi }

// number words and signs that stand before or after an amount
var (
	roughWords = map[string]bool{
		"about": true, "around": true, "approx": true, "approximately": true, "roughly": true, "circa": true, "ca": true,
		"nearly": true, "almost": true, "maybe": true, "ish": true, "something": true, "somewhere": true, "like": true,
	}
	overWords  = map[string]bool{"over": true, "above": true, "exceeds": true, "greater": true, "more": true}
	underWords = map[string]bool{"under": true, "below": true, "less": true, "lower": true}
)

// qualifiers reads "about", ">", "more than" and a sign before an amount.
func qualifiers(toks []token, i int, r *Reading) (next int, negative bool) {
	for i < len(toks) {
		t := toks[i]
		following := ""
		if i+1 < len(toks) {
			following = toks[i+1].lower
		}
		switch {
		case t.kind == word && roughWords[t.lower], t.text == "~", t.text == "≈":
			r.Rough = true
			if i+2 < len(toks) && following == "." && (t.lower == "approx" || t.lower == "ca") {
				i++
			}
		case t.lower == "more" || t.lower == "greater" || t.lower == "less" || t.lower == "lower":
			if following != "than" {
				return i, negative
			}
			r.Bound = AtLeast
			if underWords[t.lower] {
				r.Bound = AtMost
			}
			i++
		case t.kind == word && overWords[t.lower], t.text == ">":
			r.Bound = AtLeast
		case t.kind == word && underWords[t.lower], t.text == "<":
			r.Bound = AtMost
		case t.lower == "at" && following == "least":
			r.Bound = AtLeast
			i++
		case t.lower == "at" && following == "most", t.lower == "up" && following == "to":
			r.Bound = AtMost
			i++
		case t.text == "-", t.text == minus, t.lower == "minus", t.lower == "negative":
			return i + 1, true
		case t.text == "+", t.lower == "plus":
			return i + 1, false
		default:
			return i, negative
		}
		i++
	}
	return i, negative
}

// readAmount reads a number and its suffix from toks[i:].
func readAmount(toks []token, i int) (a amount, next int, ok bool) {
	if d, next, one, ok := spokenNumber(toks, i); ok {
		a.d, a.bare = d, one
		a.suffix, next = readSuffixes(toks, next)
		return a, next, true
	}
	if i >= len(toks) {
		return a, i, false
	}
	// R47
	if t := toks[i]; t.kind == word && (t.text == "R" || t.text == "r") && i+1 < len(toks) &&
		toks[i+1].kind == number && toks[i+1].glued && plainDigits(toks[i+1].text) {
		d, ok := decimalFrom("", toks[i+1].text)
		a.d, a.coded = d, true
		a.suffix, next = readSuffixes(toks, i+2)
		if !ok || a.prefixed() || a.unit != Ohm && a.unit != NoUnit {
			return a, i, false
		}
		a.unit = Ohm
		return a, next, true
	}
	if toks[i].kind != number {
		return a, i, false
	}
	a.d, a.grouped, a.ambiguous, a.bare, ok = literal(toks[i].text)
	if !ok {
		return a, i, false
	}
	if coded, next, ok := letterCode(toks, i); ok {
		return coded, next, true
	}
	next = i + 1
	if f, at, ok := fraction(toks, i); ok {
		a.d, next, a.bare, a.ambiguous = f, at, false, false
	} else if f, at, ok := fraction(toks, i+1); ok && plainDigits(toks[i].text) && !toks[i+1].glued {
		sum, fits := a.d.plus(f)
		if !fits {
			return a, i, false
		}
		a.d, next, a.bare = sum, at, false
	}
	at := next
	a.suffix, next = readSuffixes(toks, at)
	// A unit or prefix makes a point the decimal one (SI brochure, 5.4.4: points and
	// commas never separate groups); a comma stays in doubt, as 1,200 V is also written.
	if a.ambiguous && next > at && !a.m && strings.Contains(toks[i].text, ".") {
		a.ambiguous = false
	}
	return a, next, true
}

// letterCode reads the codes of IEC 60062 with the letter inside: 4K7, 4R7, 2M2, and
// 3V3 in the same style.
func letterCode(toks []token, i int) (a amount, next int, ok bool) {
	if i+2 >= len(toks) || !plainDigits(toks[i].text) || toks[i+1].kind != word || !toks[i+1].glued ||
		toks[i+2].kind != number || !toks[i+2].glued || !plainDigits(toks[i+2].text) {
		return a, i, false
	}
	a.coded = true
	switch toks[i+1].text {
	case "R", "r":
	case "K", "k":
		a.exp = 3
	case "M":
		a.exp = 6
	case "m":
		a.exp, a.m = -3, true
	case "G", "g":
		a.exp = 9
	case "V", "v":
		a.unit = Volt
	default:
		return a, i, false
	}
	if a.d, ok = decimalFrom(toks[i].text, toks[i+2].text); !ok {
		return a, i, false
	}
	s, next := readSuffixes(toks, i+3)
	if a.unit == NoUnit {
		a.unit = Ohm
	}
	if s.prefixed() || s.foreign || s.unit != NoUnit && s.unit != a.unit {
		return a, i, false
	}
	return a, next, true
}

// fraction reads 1/2 or 3⁄4: a proper fraction that is an exact decimal.
func fraction(toks []token, i int) (d Decimal, next int, ok bool) {
	if i+2 >= len(toks) || toks[i+1].text != "/" && toks[i+1].text != "⁄" ||
		!plainDigits(toks[i].text) || !plainDigits(toks[i+2].text) {
		return d, i, false
	}
	top, ok1 := decimalFrom(toks[i].text, "")
	bottom, ok2 := decimalFrom(toks[i+2].text, "")
	if !ok1 || !ok2 || top.Coef <= 0 || top.Coef >= bottom.Coef || bottom.Coef > 64 {
		return d, i, false
	}
	for exp, scale := 0, int64(1); exp <= 6; exp, scale = exp+1, scale*10 {
		if top.Coef*scale%bottom.Coef == 0 {
			return Decimal{Coef: top.Coef * scale / bottom.Coef, Exp: -exp}, i + 3, true
		}
	}
	return d, i, false
}

// joiner reads what stands between the ends of a range.
func joiner(toks []token, i int, between bool) (next int, plusMinus, ok bool) {
	if i >= len(toks) {
		return i, false, false
	}
	switch t := toks[i]; {
	case t.text == "-" || t.text == "–" || t.text == "—":
		return i + 1, false, true
	case t.lower == "to" || t.lower == "through" || t.lower == "and" && between:
		return i + 1, false, true
	case t.text == "±":
		return i + 1, true, true
	case t.text == "+" && i+1 < len(toks) && toks[i+1].text == "-":
		return i + 2, true, true
	}
	return i, false, false
}

// numberReading reads a value, a range or a bound that takes up all of toks.
func numberReading(toks []token, want Want) (Reading, *Doubt) {
	r := Reading{Class: Value}
	i := 0
	between := toks[0].lower == "between" || toks[0].lower == "from"
	if between {
		i++
	}
	i, negative := qualifiers(toks, i, &r)
	lo, next, ok := readAmount(toks, i)
	if !ok {
		return Reading{}, doubt(NotANumber)
	}
	lo.negative = negative
	hi, ranged, plusMinus := lo, false, false
	if at, pm, ok := joiner(toks, next, between); ok {
		at, negative := qualifiers(toks, at, &Reading{})
		if hi, at, ok = readAmount(toks, at); ok {
			hi.negative = negative
			next, ranged, plusMinus = at, true, pm
		} else {
			hi = lo
		}
	}
	if between && !ranged {
		return Reading{}, doubt(NotANumber)
	}
	at := afterwards(toks, next, &r)
	if at > next && !ranged && (lo.suffix == suffix{}) {
		// "70ish ohms"
		lo.suffix, at = readSuffixes(toks, at)
	}
	next = at
	if next < len(toks) {
		// "10L": digits that might be a misread OL.
		if strings.HasPrefix(toks[next].lower, "l") && len(toks[next].lower) == 1 && next == len(toks)-1 {
			return Reading{}, doubt(NotANumber, beyond(want.Unit))
		}
		return Reading{}, doubt(NotANumber)
	}
	return judge(r, lo, hi, ranged, plusMinus, want)
}

// afterwards reads "ish", "or so", "or more", "plus" after an amount.
func afterwards(toks []token, i int, r *Reading) int {
	for i < len(toks) {
		t := toks[i]
		following := ""
		if i+1 < len(toks) {
			following = toks[i+1].lower
		}
		switch {
		case t.lower == "ish", t.lower == "about", t.lower == "approx", t.lower == "roughly":
			r.Rough = true
		case t.lower == "i" && following == "think", t.lower == "or" && following == "so", t.lower == "give" && following == "or":
			r.Rough = true
			i++
		case t.text == "-" && t.glued && following == "ish":
			r.Rough = true
			i++
		case t.text == "+" || t.lower == "plus":
			r.Bound = AtLeast
		case t.lower == "or" && (following == "more" || following == "higher"):
			r.Bound = AtLeast
			i++
		case t.lower == "or" && (following == "less" || following == "lower"):
			r.Bound = AtMost
			i++
		default:
			return i
		}
		i++
	}
	return i
}

// judge turns amounts into a reading of the wanted unit, or says what is in doubt.
func judge(r Reading, lo, hi amount, ranged, plusMinus bool, want Want) (Reading, *Doubt) {
	if lo.foreign || hi.foreign {
		return Reading{}, doubt(WrongUnit)
	}
	typed := lo.unit
	if typed == NoUnit {
		typed = hi.unit
	} else if hi.unit != NoUnit && hi.unit != typed {
		return Reading{}, doubt(WrongUnit)
	}
	r.Unit = unitOr(typed, want)
	mega := func(a amount) bool { return a.exp >= 6 }
	if r.Unit == NoUnit && (mega(lo) || mega(hi)) {
		r.Unit = Ohm
	}
	if r.Unit != Ohm && r.Unit != NoUnit && (lo.exp >= 9 || hi.exp >= 9) {
		return Reading{}, doubt(WrongUnit)
	}
	if r.Unit != Ohm && r.Unit != NoUnit && typed == NoUnit {
		// A bare M where nothing is measured in megas.
		lo.m = lo.m || lo.exp == 6
		hi.m = hi.m || hi.exp == 6
	}
	shared := ranged && !plusMinus && lo.unit == NoUnit && !lo.prefixed() && hi.prefixed()
	if ranged && plusMinus && lo.unit == NoUnit && !lo.prefixed() {
		shared = hi.prefixed()
	}
	if ranged && lo.ambiguous && (hi.unit != NoUnit || hi.prefixed()) && lo.unit == NoUnit && !lo.prefixed() {
		lo.ambiguous = hi.ambiguous
	}
	if shared {
		lo.exp, lo.m = hi.exp, hi.m
	}
	judged := want
	if typed != NoUnit && want.Unit != NoUnit && typed != want.Unit {
		judged = Want{Unit: typed}
	}
	loDec, d := single(r, lo, judged)
	if d != nil {
		return Reading{}, wrongFirst(d, typed, want)
	}
	hiDec := loDec
	if ranged {
		if hiDec, d = single(r, hi, judged); d != nil {
			return Reading{}, wrongFirst(d, typed, want)
		}
	}
	switch {
	case ranged && r.Bound != Exact:
		return Reading{}, doubt(NotANumber)
	case plusMinus:
		down, ok1 := loDec.plus(hiDec.neg())
		up, ok2 := loDec.plus(hiDec)
		if !ok1 || !ok2 || hi.negative {
			return Reading{}, doubt(NotANumber)
		}
		loDec, hiDec = down, up
	case ranged && loDec.Cmp(hiDec) > 0 && shared:
		// "900 to 1.1k": the prefix belongs to the second number only.
		lo.exp, lo.m = 0, false
		if loDec, d = single(r, lo, judged); d != nil {
			return Reading{}, wrongFirst(d, typed, want)
		}
	}
	if outsized(loDec) || outsized(hiDec) || ranged && loDec.Cmp(hiDec) >= 0 {
		return Reading{}, doubt(NotANumber)
	}
	r.Lo, r.Hi = loDec, hiDec
	if r.Unit == Ohm && loDec.sign() < 0 {
		return Reading{}, doubt(Negative)
	}
	if typed != NoUnit && want.Unit != NoUnit && typed != want.Unit {
		return Reading{}, doubt(WrongUnit, r)
	}
	// A bare 1 is the over-range sign of older meters as much as a number.
	if lo.bare && !ranged && !lo.prefixed() && typed == NoUnit && !r.Rough && r.Bound == Exact && !lo.negative &&
		loDec == (Decimal{Coef: 1}) && !(r.Unit == Ohm && want.holds(1) && !want.endless()) {
		return Reading{}, doubt(BareOne, beyond(r.Unit), r)
	}
	return r, nil
}

// outsized reports more decimals or zeros than any meter has, and than could be said
// back.
func outsized(d Decimal) bool { return d.Exp < -maxDigits || d.Exp > 9 }

// endless reports whether an open circuit is among the answers expected.
func (w Want) endless() bool { return w.Hi > 1e15 }

// wrongFirst lets a wrong unit go before other doubts about the same text.
func wrongFirst(d *Doubt, typed Unit, want Want) *Doubt {
	if typed != NoUnit && want.Unit != NoUnit && typed != want.Unit {
		return doubt(WrongUnit)
	}
	return d
}

// single settles one amount.
func single(r Reading, a amount, want Want) (Decimal, *Doubt) {
	ds := a.candidates(r.Unit)
	if d, ok := want.settle(ds); ok {
		return d, nil
	}
	code := Thousand
	if a.m {
		code = MilliOrMega
	}
	out := doubt(code)
	for _, d := range ds {
		if r.Unit == Ohm && d.sign() < 0 {
			return Decimal{}, doubt(Negative)
		}
		option := r
		option.Lo, option.Hi = d, d
		out.Options = append(out.Options, option)
	}
	return Decimal{}, out
}
