package quantity

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

type tokenKind uint8

const (
	number tokenKind = iota // digits with . , ' between them
	word                    // letters
	sign                    // one other character, or +/-, >=, <=, a run of dots
)

type token struct {
	kind  tokenKind
	text  string // as normalised, case kept
	lower string
	glued bool // no space before it
}

// group marks a digit group separator that cannot be anything else: thin and
// no-break spaces before three digits, apostrophes.
const group = '\''

// normalise folds what keyboards and phones make of the same characters (Unicode
// NFKC: full-width digits, Ω U+2126, µ U+00B5, no-break spaces, ㏁), after taking out
// what NFKC would make wrong numbers of: 1½ would become 11/2, 10² would become 102.
func normalise(s string) string {
	s = groupSpaces(s)
	var b strings.Builder
	b.Grow(len(s) + 8)
	last := ' '
	for _, r := range s {
		switch {
		case strings.ContainsRune("⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉", r),
			r >= 0x2460 && r <= 0x24ff, r >= 0x2776 && r <= 0x2793: // circled, numbered
			b.WriteRune(utf8.RuneError)
		case r >= 0xbc && r <= 0xbe, r >= 0x2150 && r <= 0x215f, r == 0x2189: // ½ and so on
			if last >= '0' && last <= '9' {
				b.WriteByte(' ')
			}
			b.WriteRune(r)
		case r == '’' || r == '‘' || r == 'ʼ':
			b.WriteByte('\'')
		case r == 0x200b:
			b.WriteByte(' ')
		case unicode.Is(unicode.Cf, r) || r == 0xfe0e || r == 0xfe0f: // joiners, marks of direction, variation selectors
		default:
			b.WriteRune(r)
		}
		last = r
	}
	return norm.NFKC.String(b.String())
}

// groupSpaces turns a thin or no-break space between a digit and exactly three
// digits into an apostrophe.
func groupSpaces(s string) string {
	if !strings.ContainsAny(s, "\u00a0\u2009\u202f") {
		return s
	}
	rs := []rune(s)
	digit := func(i int) bool { return i >= 0 && i < len(rs) && rs[i] >= '0' && rs[i] <= '9' }
	for i, r := range rs {
		if (r == 0xa0 || r == 0x2009 || r == 0x202f) && digit(i-1) &&
			digit(i+1) && digit(i+2) && digit(i+3) && !digit(i+4) {
			rs[i] = group
		}
	}
	return string(rs)
}

// scan cuts normalised text into tokens. Every character that is not a space ends up
// in one of them.
func scan(s string) []token {
	toks := make([]token, 0, 8)
	glued := false
	add := func(kind tokenKind, text string) {
		toks = append(toks, token{kind: kind, text: text, lower: strings.ToLower(text), glued: glued})
		glued = true
	}
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		switch {
		case unicode.IsSpace(r):
			glued = false
			i += size
		case isDigit(s, i), (r == '.' || r == ',') && isDigit(s, i+1) && (i == 0 || s[i-1] != '.'):
			j := i + 1
			for isDigit(s, j) || j < len(s) && strings.IndexByte(".,'", s[j]) >= 0 && isDigit(s, j+1) {
				j++
			}
			add(number, s[i:j])
			i = j
		case isLetter(r):
			j := i + size
			for j < len(s) {
				r, size := utf8.DecodeRuneInString(s[j:])
				if !isLetter(r) && !(r == '\'' && j+1 < len(s) && asciiLetter(s[j+1])) {
					break
				}
				j += size
			}
			add(word, s[i:j])
			i = j
		case strings.HasPrefix(s[i:], "+/-"):
			add(sign, "±")
			i += 3
		case strings.HasPrefix(s[i:], ">="), strings.HasPrefix(s[i:], "<="):
			add(sign, s[i:i+1])
			i += 2
		case strings.HasPrefix(s[i:], ".."):
			j := i
			for j < len(s) && s[j] == '.' {
				j++
			}
			add(sign, "..")
			i = j
		case r == '≥':
			add(sign, ">")
			i += size
		case r == '≤':
			add(sign, "<")
			i += size
		default:
			add(sign, s[i:i+size])
			i += size
		}
	}
	return toks
}

func isDigit(s string, i int) bool { return i < len(s) && s[i] >= '0' && s[i] <= '9' }

func asciiLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

func isLetter(r rune) bool { return unicode.IsLetter(r) || r == '°' }

// literal reads a number token. With ambiguous, d is the number if the single mark is
// a decimal one and grouped if it separates thousands. bare is the token itself being
// digits only.
func literal(s string) (d, grouped Decimal, ambiguous, bare, ok bool) {
	dots, commas, quotes := strings.Count(s, "."), strings.Count(s, ","), strings.Count(s, "'")
	switch {
	case dots+commas+quotes == 0:
		d, ok = decimalFrom(s, "")
		return d, d, false, true, ok
	case quotes > 0:
		whole, fraction, _ := cutAny(s, ".,")
		whole, ok = ungroup(whole, "'")
		if !ok || strings.ContainsAny(fraction, ".,'") {
			return d, d, false, false, false
		}
		d, ok = decimalFrom(whole, fraction)
		return d, d, false, false, ok
	case dots+commas == 1:
		whole, fraction, _ := cutAny(s, ".,")
		d, ok = decimalFrom(whole, fraction)
		if len(fraction) == 3 && len(whole) >= 1 && len(whole) <= 3 && whole != "0" {
			grouped, _ = decimalFrom(whole+fraction, "")
			return d, grouped, ok, false, ok
		}
		return d, d, false, false, ok
	}
	// Several marks: all but a last, different one separate thousands.
	last := strings.LastIndexAny(s, ".,")
	mark := s[last : last+1]
	whole, fraction := s, ""
	if strings.Count(s, mark) == 1 {
		whole, fraction = s[:last], s[last+1:]
		mark = "."
		if s[last] == '.' {
			mark = ","
		}
	}
	if whole, ok = ungroup(whole, mark); !ok {
		return d, d, false, false, false
	}
	d, ok = decimalFrom(whole, fraction)
	return d, d, false, false, ok
}

func cutAny(s, chars string) (before, after string, found bool) {
	if i := strings.IndexAny(s, chars); i >= 0 {
		return s[:i], s[i+1:], true
	}
	return s, "", false
}

// ungroup takes thousands marks out of s, which must hold at least one and groups of
// three after a first group of one to three digits that does not begin with zero.
func ungroup(s, mark string) (digits string, ok bool) {
	groups := strings.Split(s, mark)
	if len(groups) < 2 || len(groups[0]) < 1 || len(groups[0]) > 3 || groups[0][0] == '0' {
		return "", false
	}
	for i, g := range groups {
		if i > 0 && len(g) != 3 || strings.Trim(g, "0123456789") != "" {
			return "", false
		}
	}
	return strings.Join(groups, ""), true
}
