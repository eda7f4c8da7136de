package console

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/width"

	"halfsplit/bot"
)

// columns is the width of the output; margin is the width of the first column.
const (
	columns = 78
	margin  = 6
)

// layout writes a message with its name in the first column. Lines that fit stay as
// they are; longer ones are broken at spaces, never inside a word, at a no-break space
// or between a number and its unit.
func layout(name, text string, choices []bot.Choice) string {
	var out []string
	for l := range strings.SplitSeq(clean(text), "\n") {
		out = append(out, wrap(l, columns-margin)...)
	}
	for len(out) > 1 && out[len(out)-1] == "" {
		out = out[:len(out)-1]
	}
	if len(choices) > 0 {
		out = append(out, answers(choices)...)
	}
	var b strings.Builder
	for i, l := range out {
		head := ""
		if i == 0 {
			head = name
		}
		b.WriteString(strings.TrimRight(head+strings.Repeat(" ", margin-len(head))+l, " "))
		b.WriteByte('\n')
	}
	return b.String()
}

// answers lists the words that may be typed.
func answers(choices []bot.Choice) []string {
	var words []string
	for i, c := range choices {
		w := c.Word
		if w == "" {
			w = c.Label
		}
		if w == "" {
			w = c.Value
		}
		w = strings.ReplaceAll(clean(w), "\n", " ")
		if i < len(choices)-1 {
			w += " /"
		}
		words = append(words, w)
	}
	return fill("", "        ", append([]string{"answer:"}, words...), columns-margin)
}

// clean drops what would steer the terminal: control characters other than line ends,
// and the marks that turn the direction of text. Tabs become spaces.
func clean(s string) string {
	s = strings.ReplaceAll(s, "\r\n", "\n")
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\n':
			return r
		case r == '\t' || r == '\u2028' || r == '\u2029' || r == '\r':
			return ' '
		case unicode.IsControl(r), unicode.Is(unicode.Bidi_Control, r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, string(utf8.RuneError)))
}

// wrap breaks one line to a width. What goes on hangs under the line's own indent.
func wrap(l string, limit int) []string {
	if cells(l) <= limit {
		return []string{l}
	}
	indent := l[:len(l)-len(strings.TrimLeft(l, " "))]
	if mark, rest, ok := strings.Cut(l, "  "); ok && mark != "" && !strings.Contains(mark, " ") && cells(mark) <= 3 {
		// A line of a list, "a  text": what goes on hangs under the text.
		head := mark + "  "
		return fill(head, strings.Repeat(" ", cells(head)), joinUnits(strings.FieldsFunc(rest, isSpace)), limit)
	}
	if len(indent) > limit/2 {
		indent = ""
	}
	return fill(indent, indent, joinUnits(strings.FieldsFunc(l, isSpace)), limit)
}

// isSpace reports whether a line may be broken at r: not at a no-break space.
func isSpace(r rune) bool { return r == ' ' }

// fill puts words on lines; first and rest are the indents. A word wider than the line
// stands alone and is not cut.
func fill(first, rest string, words []string, limit int) []string {
	var out []string
	now, empty := first, true
	for _, w := range words {
		switch {
		case empty:
			now += w
		case cells(now)+1+cells(w) <= limit:
			now += " " + w
		default:
			out = append(out, now)
			now = rest + w
		}
		empty = false
	}
	return append(out, now)
}

// units are the signs kept on the line of the number before them (SI brochure, IEC
// 60027, and the words people type).
var units = map[string]bool{
	"Ω": true, "kΩ": true, "MΩ": true, "mΩ": true, "ohm": true, "ohms": true,
	"V": true, "mV": true, "kV": true, "A": true, "mA": true, "µA": true,
	"W": true, "kW": true, "Hz": true, "µF": true, "%": true, "°C": true, "°F": true,
	"s": true, "min": true, "h": true, "mm": true, "cm": true, "m": true, "mm²": true,
}

// joinUnits joins a number and the unit behind it, and a dash or dot between two words
// to the one before it, so that no line begins with either.
func joinUnits(words []string) []string {
	var out []string
	for _, w := range words {
		bare := strings.TrimRight(w, ".,;:!?)")
		if n := len(out); n > 0 {
			last, _ := utf8.DecodeLastRuneInString(out[n-1])
			if units[bare] && unicode.IsDigit(last) || w == "·" || w == "–" || w == "→" {
				out[n-1] += " " + w
				continue
			}
		}
		out = append(out, w)
	}
	return out
}

// cells is the width of a text on a terminal of fixed pitch: two for wide East Asian
// characters (Unicode Standard Annex 11), none for marks set on the character before.
func cells(s string) int {
	n := 0
	for _, r := range s {
		switch {
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		case wide(r):
			n += 2
		default:
			n++
		}
	}
	return n
}

func wide(r rune) bool {
	k := width.LookupRune(r).Kind()
	return k == width.EastAsianWide || k == width.EastAsianFullwidth
}
