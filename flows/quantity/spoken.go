package quantity

// Number words. Phones write most numbers as digits, but not all: "twelve point five",
// "two thirty" for 230, "two oh eight" for 208, "four k seven" for 4k7.

var smallWords = map[string]int64{
	"zero": 0, "nought": 0, "naught": 0,
	"one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
	"ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15,
	"sixteen": 16, "seventeen": 17, "eighteen": 18, "nineteen": 19,
	"twenty": 20, "thirty": 30, "forty": 40, "fourty": 40, "fifty": 50, "sixty": 60, "seventy": 70, "eighty": 80, "ninety": 90,
}

// homophones are taken for numbers only as the first word, before another one.
var homophones = map[string]int64{"to": 2, "too": 2, "for": 4, "fore": 4, "won": 1, "ate": 8}

// spokenNumber reads a number that has at least one number word in it from toks[i:].
// one is set for the word "one" alone. ok is false if there is none.
func spokenNumber(toks []token, i int) (d Decimal, next int, one, ok bool) {
	p := speech{toks: toks, i: i}
	if v, ok := p.half(); ok {
		return v, p.i, false, true
	}
	p.i = i
	d, ok = p.whole()
	if !ok {
		// "point three", "oh point three"
		p.i = i
		if w := p.word(); w == "oh" || w == "o" {
			p.i++
		}
		if !isPoint(p.word()) {
			return d, i, false, false
		}
		d = Decimal{}
	}
	if d.Exp < 0 {
		// "2.5 and a half", "2.5 point 3": not a number
	} else if f, n, ok := p.pointed(); ok {
		coef, fits := d.withExp(-n)
		if !fits {
			return d, i, false, false
		}
		d = Decimal{Coef: coef + f, Exp: -n}
		p.spoken = true
	} else if w := p.word(); w == "k" || w == "meg" || w == "r" {
		if f, n, ok := p.letterCoded(); ok && p.spoken {
			exp := map[string]int{"k": 3, "meg": 6}[w]
			coef, fits := d.withExp(-n)
			if !fits {
				return d, i, false, false
			}
			d = Decimal{Coef: coef + f, Exp: exp - n}
		}
	} else if p.word() == "and" {
		at := p.i
		p.i++
		if f, ok := p.half(); ok {
			sum, fits := d.plus(f)
			if !fits {
				return d, i, false, false
			}
			d, p.spoken = sum, true
		} else {
			p.i = at
		}
	}
	if !p.spoken || p.i == i {
		return d, i, false, false
	}
	return d, p.i, p.i == i+1 && toks[i].lower == "one", true
}

type speech struct {
	toks   []token
	i      int
	spoken bool // at least one word was read
}

func (p *speech) at(i int) string {
	if i < len(p.toks) && (p.toks[i].kind == word) {
		return p.toks[i].lower
	}
	return ""
}

func (p *speech) word() string { return p.at(p.i) }

func isPoint(w string) bool { return w == "point" || w == "dot" }

// half reads "half", "a half", "one half", "a quarter", "three quarters".
func (p *speech) half() (Decimal, bool) {
	if w := p.word(); (w == "a" || w == "one") && (p.at(p.i+1) == "half" || p.at(p.i+1) == "quarter") {
		p.i++
	}
	switch {
	case p.word() == "half":
		p.i++
		return Decimal{Coef: 5, Exp: -1}, true
	case p.word() == "quarter":
		p.i++
		return Decimal{Coef: 25, Exp: -2}, true
	case p.word() == "three" && (p.at(p.i+1) == "quarters" || p.at(p.i+1) == "quarter"):
		p.i += 2
		return Decimal{Coef: 75, Exp: -2}, true
	}
	return Decimal{}, false
}

// whole reads the part before a point, in words or as a number token that a number
// word follows.
func (p *speech) whole() (Decimal, bool) {
	if p.i < len(p.toks) && p.toks[p.i].kind == number {
		d, _, ambiguous, _, ok := literal(p.toks[p.i].text)
		if !ok || ambiguous {
			return d, false
		}
		p.i++
		for times := 0; times < 2; times++ {
			exp, isScale := map[string]int{"hundred": 2, "thousand": 3, "million": 6}[p.word()]
			if !isScale {
				break
			}
			d.Exp += exp
			p.i++
			p.spoken = true
		}
		return d, true
	}
	const limit = 1_000_000_000
	var total, current int64
	var last int64 = -1 // the small number just read; -1 none yet, -2 a scale word
	tens := func(v int64) bool { return v >= 20 }
	start := p.i
	if w := p.at(p.i + 1); p.word() == "a" && (w == "hundred" || w == "thousand" || w == "million") {
		current, last = 1, 1
		p.i++
	} else if v, ok := homophones[p.word()]; ok && p.i == 0 && p.numberAfter() {
		current, last, p.spoken = v, v, true
		p.i++
	}
	for current < limit && total < limit {
		w := p.word()
		v, small := smallWords[w]
		switch {
		case small && last == -1:
			current = v
		case small && last == -2 && v > 0:
			current += v
		case small && tens(last) && v >= 1 && v <= 9:
			current += v
			v = 1 // nothing may follow but a scale
		case small && last >= 1 && last <= 9 && v >= 10 && current < 10 && total == 0: // two thirty
			current = current*100 + v
		case (w == "oh" || w == "o" || w == "zero") && last >= 1 && last <= 9 && current < 10 && total == 0: // two oh eight
			u, ok := smallWords[p.at(p.i+1)]
			if !ok || u < 1 || u > 9 {
				return Decimal{Coef: total + current}, p.i > start
			}
			current, v = current*100+u, 1
			p.i++
		case w == "hundred" && current >= 1 && current < 100:
			current, v = current*100, -2
		case w == "thousand" && current >= 1 && current < 1000 && total == 0:
			total, current, v = current*1000, 0, -2
		case w == "million" && current >= 1 && current < 1000 && total == 0:
			total, current, v = current*1_000_000, 0, -2
		case w == "and" && last == -2 && smallWords[p.at(p.i+1)] > 0:
			p.i++
			continue
		default:
			return Decimal{Coef: total + current}, p.i > start
		}
		last = v
		p.spoken = true
		p.i++
	}
	return Decimal{}, false
}

// numberAfter reports whether the word after the current one makes a homophone a number.
func (p *speech) numberAfter() bool {
	w := p.at(p.i + 1)
	v, small := smallWords[w]
	if small && v >= 10 || w == "hundred" || w == "thousand" || w == "oh" || isPoint(w) {
		return true
	}
	s, ok := readSuffix(w)
	return ok && (s.unit != NoUnit || s.prefixed()) && len(w) > 2
}

// pointed reads "point" and what follows: digit words, or a run of digits.
func (p *speech) pointed() (f int64, n int, ok bool) {
	if !isPoint(p.word()) {
		return 0, 0, false
	}
	at := p.i
	p.i++
	f, n = p.digitWords()
	if n == 0 {
		p.i = at
	}
	return f, n, n > 0
}

// letterCoded reads "k seven" in "four k seven".
func (p *speech) letterCoded() (f int64, n int, ok bool) {
	at := p.i
	p.i++
	if p.i < len(p.toks) && p.toks[p.i].kind == word {
		f, n = p.digitWords()
	}
	if n == 0 || n > 3 {
		p.i = at
		return 0, 0, false
	}
	return f, n, true
}

func (p *speech) digitWords() (f int64, n int) {
	if p.i < len(p.toks) && p.toks[p.i].kind == number {
		d, ok := decimalFrom(p.toks[p.i].text, "")
		if !plainDigits(p.toks[p.i].text) || !ok {
			return 0, 0
		}
		n = len(p.toks[p.i].text)
		if n > 9 {
			return 0, 0
		}
		p.i++
		return d.Coef, n
	}
	for n < 9 {
		w := p.word()
		v, ok := smallWords[w]
		if w == "oh" || w == "o" {
			v, ok = 0, true
		}
		switch {
		case ok && v <= 9:
			f, n = f*10+v, n+1
		case ok && n == 0 && v >= 10: // point twenty five
			f, n = v, 2
			p.i++
			if u, ok := smallWords[p.word()]; ok && v >= 20 && u >= 1 && u <= 9 {
				f += u
				p.i++
			}
			return f, n
		default:
			return f, n
		}
		p.i++
	}
	return f, n
}

func plainDigits(s string) bool {
	for i := range len(s) {
		if !isDigit(s, i) {
			return false
		}
	}
	return s != ""
}
