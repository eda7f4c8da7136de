package quantity

import (
	"strings"
	"unicode/utf8"
)

// suffix is what may follow a number: a prefix, a unit, or both in one word.
type suffix struct {
	exp     int
	m       bool // a small m alone or before ohms, or a large one before volts, amps, watts
	unit    Unit
	foreign bool // a unit that no reading here has: Hz, °C, farads
}

func (s suffix) prefixed() bool { return s.exp != 0 || s.m }

var unitWords = map[string]Unit{
	"ω": Ohm, "ohm": Ohm, "ohms": Ohm, "r": Ohm,
	"om": Ohm, "oms": Ohm, "home": Ohm, "homes": Ohm, "owms": Ohm, // heard by phones
	"v": Volt, "volt": Volt, "volts": Volt, "vac": Volt, "vdc": Volt, "vrms": Volt,
	"vault": Volt, "vaults": Volt, "bolts": Volt, // heard by phones
	"a": Amp, "amp": Amp, "amps": Amp, "ampere": Amp, "amperes": Amp, "aac": Amp, "adc": Amp,
	"w": Watt, "watt": Watt, "watts": Watt,
}

var foreignWords = map[string]bool{
	"hz": true, "khz": true, "hertz": true, "f": true, "c": true, "°c": true, "°f": true, "°": true,
	"deg": true, "degree": true, "degrees": true, "celsius": true, "fahrenheit": true,
	"uf": true, "μf": true, "nf": true, "pf": true, "mfd": true, "microfarad": true, "microfarads": true, "farad": true, "farads": true,
	"va": true, "kva": true, "hp": true, "psi": true, "bar": true, "s": true, "sec": true, "secs": true,
	"second": true, "seconds": true, "min": true, "mins": true, "minute": true, "minutes": true,
	"h": true, "hour": true, "hours": true, "mm": true, "cm": true, "inch": true, "inches": true,
}

var prefixWords = map[string]int{
	"kilo": 3, "kilos": 3, "kil": 3, "meg": 6, "megs": 6, "mega": 6, "megas": 6, "mago": 6, "maga": 6,
	"gig": 9, "gigs": 9, "giga": 9, "milli": -3, "millis": -3, "micro": -6,
}

var prefixLetters = map[string]int{
	"k": 3, "K": 3, "M": 6, "m": -3, "G": 9, "g": 9, "μ": -6, "u": -6,
}

// readSuffix reads one word (NFKC: µ is U+03BC, Ω is U+03A9).
func readSuffix(text string) (s suffix, ok bool) {
	lower := strings.ToLower(text)
	if u, ok := unitWords[lower]; ok {
		return suffix{unit: u}, true
	}
	if foreignWords[lower] {
		return suffix{foreign: true}, true
	}
	if exp, ok := prefixWords[lower]; ok {
		return suffix{exp: exp}, true
	}
	if exp, ok := prefixLetters[text]; ok {
		return suffix{exp: exp, m: text == "m"}, true
	}
	_, size := utf8.DecodeRuneInString(text)
	if exp, ok := prefixLetters[text[:size]]; ok {
		if u, ok := unitWords[lower[len(lower)-(len(text)-size):]]; ok && lower[size:] != "r" {
			m := text[0] == 'm' && u == Ohm || text[0] == 'M' && u != Ohm
			return suffix{exp: exp, m: m, unit: u}, true
		}
	}
	for _, p := range [...]string{"kilo", "kil", "mega", "meg", "milli", "micro", "giga", "gig"} {
		if rest, found := strings.CutPrefix(lower, p); found {
			if u, ok := unitWords[rest]; ok && len(rest) > 1 {
				return suffix{exp: prefixWords[p], unit: u}, true
			}
		}
	}
	return suffix{}, false
}

// readSuffixes reads prefix, unit and kind of current from toks[i:] and returns where
// it stopped. typed says that a unit or a word belonging to one was there.
func readSuffixes(toks []token, i int) (s suffix, next int) {
	for step := 0; i < len(toks) && toks[i].kind == word; step++ {
		t := toks[i]
		// "of an ohm", "an ohm", "a volt"
		if step == 0 && !t.glued {
			j := i
			if toks[j].lower == "of" {
				j++
			}
			if j+1 < len(toks) && (toks[j].lower == "an" || toks[j].lower == "a") && toks[j+1].kind == word {
				if f, ok := readSuffix(toks[j+1].text); ok && (f.unit != NoUnit || f.prefixed()) && len(toks[j+1].text) > 1 {
					i = j + 1
					t = toks[i]
				}
			}
		}
		f, ok := readSuffix(t.text)
		if !ok || f.unit == NoUnit && !f.prefixed() && !f.foreign {
			break
		}
		switch {
		case f.foreign && s == suffix{}:
			s = f
		case f.unit == NoUnit && s == suffix{}: // prefix alone
			s = f
		case f.unit != NoUnit && !f.prefixed() && s.unit == NoUnit && !s.foreign && (!s.prefixed() || f.unit != NoUnit):
			// "2.3 M ohm": the m is judged together with the unit it stands before.
			if s.m && f.unit != Ohm {
				s.m = false
			} else if s.exp == 6 && f.unit != Ohm && i > 0 && toks[i-1].text == "M" {
				s.m = true
			}
			s.unit = f.unit
		case f.unit != NoUnit && s == suffix{}:
			s = f
		default:
			return s, i
		}
		i++
		if s.unit != NoUnit || s.foreign {
			break
		}
	}
	// ac, dc, rms, ~, = after volts and amps, or after a bare number.
	for i < len(toks) && !s.foreign && s.unit != Ohm && s.unit != Watt {
		switch t := toks[i]; {
		case t.kind == word && (t.lower == "ac" || t.lower == "dc" || t.lower == "rms"):
		case t.kind == sign && s.unit != NoUnit && (t.text == "~" || t.text == "="):
		default:
			return s, i
		}
		i++
	}
	return s, i
}
