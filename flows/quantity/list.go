package quantity

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// longestList is the most fields (words, numbers) that ParseList looks at.
const longestList = 150

// ParseList reads several readings typed at once. They are separated by commas,
// semicolons, slashes, "and", new lines or spaces, each with or without words before it
// that say where it was taken ("14 to frame 13", "14: 13, 15: ol", "L1-L2 0"), or after
// it ("13 ohm from 14 to frame"). "all OL" and "13, rest OL" are understood where
// several are wanted.
//
// With wants, the text must hold exactly one reading for each, in that order (units
// and bands are applied by position); anything else is a Doubt with code Count, whose
// Options are the readings that were understood. A comma or slash between digits is
// taken as part of a number or as a separator, whichever gives the number of readings
// wanted; the former if both do. With one want and one reading it equals Parse.
//
// Without wants the text is free: words that are no reading are passed over, digits
// never are. A Doubt then means that nothing in it could be read, or something was
// ambiguous.
//
// Exactly one of its results is usable: at least one Located, or a Doubt.
func ParseList(text string, wants []Want) ([]Located, *Doubt) {
	if len(text) > longestText {
		return nil, &Doubt{Code: NotANumber, Text: quoted(text)}
	}
	var whole *Doubt
	if len(wants) <= 1 {
		want := Want{}
		if len(wants) == 1 {
			want = wants[0]
		}
		r, d := Parse(text, want)
		if d == nil {
			return []Located{{Reading: r}}, nil
		}
		if d.Code != NotANumber {
			return nil, d
		}
		whole = d
	}
	l := list{raw: text, wants: wants, seen: map[span]result{}, bullets: bulleted.MatchString(text)}
	var best *outcome
	for _, m := range l.modes() {
		o := l.read(m)
		if o.tooLong {
			break
		}
		if o.clean() && len(o.found) > 0 && (len(wants) == 0 || len(o.found) == len(wants)) {
			return o.located(), nil
		}
		if best == nil || l.better(o, *best) {
			best = &o
		}
	}
	if best == nil {
		return nil, &Doubt{Code: NotANumber, Text: quoted(text)}
	}
	if d := l.doubtOf(*best); d != nil {
		return nil, d
	}
	if whole != nil && len(best.found) <= 1 {
		return nil, whole
	}
	return nil, &Doubt{Code: NotANumber, Text: quoted(text)}
}

// list is one text being read.
type list struct {
	raw   string
	wants []Want
	seen  map[span]result
	// bullets: every line begins with a hyphen, which then is no minus sign.
	bullets bool
}

type span struct{ start, end, want int }

type result struct {
	r Reading
	d *Doubt
}

// recognised reports whether the text is a reading, even if one in doubt.
func (r result) recognised() bool { return r.d == nil || r.d.Code != NotANumber }

// mode is one way of taking marks that have two meanings.
type mode struct {
	commas, slashes, ands bool // separate readings even between digits
	numbers               bool // "14-15 OL" is two readings, not a place and one
}

// modes lists the ways that differ for this text, most joined first.
func (l *list) modes() []mode {
	has := func(re *regexp.Regexp) []bool {
		if re.MatchString(l.raw) {
			return []bool{false, true}
		}
		return []bool{false}
	}
	var out []mode
	for _, numbers := range []bool{false, true} {
		for _, ands := range has(andMark) {
			for _, slashes := range has(slashMark) {
				for _, commas := range has(commaMark) {
					out = append(out, mode{commas: commas, slashes: slashes, ands: ands, numbers: numbers})
				}
			}
		}
	}
	return out
}

var (
	commaMark = regexp.MustCompile(`[0-9][,，][0-9]`)
	slashMark = regexp.MustCompile(`/`)
	andMark   = regexp.MustCompile(`(?i)\band\b|&`)

	// OL however it is spaced, with a zero or an O, at the beginning of a field. No
	// comma or space inside it separates anything.
	spacedOL = regexp.MustCompile(`^(?:[0oO][ \t\x{a0}]*[.,/-]?[ \t\x{a0}]*[lL]|[oO]/[cC])(?:$|[\s,;:!?.)])`)
	bulleted = regexp.MustCompile(`^\s*- [^\n]*(?:\n\s*- [^\n]*)+\s*$`)
	tag      = regexp.MustCompile(`^[A-Za-z]+[0-9]+[A-Za-z]?$`)
)

type fieldKind uint8

const (
	text fieldKind = iota
	colon
	separator
)

// field is a piece of the raw text.
type field struct {
	kind       fieldKind
	start, end int
}

// cut divides the raw text into fields.
func (l *list) cut(m mode) []field {
	var out []field
	s := l.raw
	start := -1
	flush := func(end int) {
		if start >= 0 {
			out = append(out, field{kind: text, start: start, end: end})
			start = -1
		}
	}
	mark := func(kind fieldKind, i, size int) {
		flush(i)
		out = append(out, field{kind: kind, start: i, end: i + size})
	}
	grouped := groupedAt(l.raw)
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		if start < 0 || i > 0 && !asciiLetter(s[i-1]) && !isDigit(s, i-1) && s[i-1] != '.' && s[i-1] != ',' {
			if spacedOL.MatchString(s[i:]) {
				if start < 0 {
					start = i
				}
				i += 1 + strings.IndexAny(s[i+1:], "lLcC") + 1
				flush(i)
				continue
			}
		}
		switch {
		case r == '\n' || r == '\r' || r == ';' || r == '；' || r == '、' || r == '•' || r == '|':
			mark(separator, i, size)
		case unicode.IsSpace(r) && !slices.Contains(grouped, i):
			flush(i)
		case r == ',' || r == '，':
			if !m.commas && i > 0 && isDigit(s, i-1) && isDigit(s, i+size) || start < 0 && isDigit(s, i+size) && pointed(out, s, i) {
				if start < 0 {
					start = i
				}
				break
			}
			mark(separator, i, size)
		case r == '/' && (m.slashes && !(i > 0 && s[i-1] == '+') || spaceAt(s, i-1) && spaceAt(s, i+1)):
			mark(separator, i, size)
		case (r == ':' || r == '=') && l.isColon(s, start, i):
			mark(colon, i, size)
		default:
			if start < 0 {
				start = i
			}
		}
		i += size
	}
	flush(len(s))
	if m.ands {
		for i, f := range out {
			if w := strings.ToLower(s[f.start:f.end]); f.kind == text && (w == "and" || w == "&") {
				out[i].kind = separator
			}
		}
	}
	return out
}

// groupedAt returns the byte offsets of spaces that group digits.
func groupedAt(raw string) []int {
	var out []int
	before, after := []rune(raw), []rune(groupSpaces(raw))
	at := 0
	for i, r := range before {
		if r != after[i] {
			out = append(out, at)
		}
		if _, size := utf8.DecodeRuneInString(raw[at:]); size > 0 {
			at += size
		}
	}
	return out
}

// pointed reports whether a comma at i opens a number (",5") rather than following
// another field.
func pointed(before []field, s string, i int) bool {
	return len(before) == 0 || before[len(before)-1].kind != text || i > 0 && s[i-1] == ' '
}

func spaceAt(s string, i int) bool { return i >= 0 && i < len(s) && s[i] == ' ' }

// isColon tells the mark between a place and its reading from the one in "K1:T1" and
// from "V =".
func (l *list) isColon(s string, start, i int) bool {
	rest := s[i+1:]
	if strings.TrimLeft(rest, " \t") == "" || strings.ContainsAny(rest[:1], ",;\n") {
		return false
	}
	if s[i] == '=' {
		return i == 0 || s[i-1] != '>' && s[i-1] != '<'
	}
	if start < 0 || strings.ContainsAny(rest[:1], " \t") || !tag.MatchString(s[start:i]) {
		return true
	}
	right := rest
	if end := strings.IndexAny(rest, " \t,;:/-\n"); end >= 0 {
		right = rest[:end]
	}
	_, d := Parse(right, Want{})
	return d == nil && !plainInt(right)
}

// item is a reading that was found, clean or in doubt.
type item struct {
	where string
	text  string
	result
}

// outcome is what one mode makes of the text.
type outcome struct {
	found   []item
	left    string // words or digits that belong to no reading
	tooLong bool
}

func (o outcome) clean() bool {
	return o.left == "" && !slices.ContainsFunc(o.found, func(f item) bool { return f.d != nil })
}

func (o outcome) located() []Located {
	out := make([]Located, len(o.found))
	for i, f := range o.found {
		out[i] = Located{Where: f.where, Reading: f.r}
	}
	return out
}

// better reports whether o is nearer to what was wanted than p.
func (l *list) better(o, p outcome) bool {
	rank := func(o outcome) int {
		n := 0
		if len(o.found) == len(l.wants) {
			n += 4
		}
		if o.left == "" {
			n += 2
		}
		if o.clean() {
			n++
		}
		return n
	}
	return rank(o) > rank(p)
}

// doubtOf says what is wrong with an outcome; nil if there is nothing to say but that
// it could not be read.
func (l *list) doubtOf(o outcome) *Doubt {
	if len(l.wants) > 0 && len(o.found) != len(l.wants) && len(o.found) > 0 {
		d := &Doubt{Code: Count, Text: quoted(l.raw)}
		for _, f := range o.found {
			if f.d == nil {
				d.Options = append(d.Options, f.r)
			}
		}
		if len(d.Options) > 0 {
			return d
		}
	}
	for _, f := range o.found {
		if f.d != nil {
			return f.d
		}
	}
	return nil
}

// read applies one mode.
func (l *list) read(m mode) outcome {
	fields := l.cut(m)
	if len(fields) > longestList {
		return outcome{tooLong: true}
	}
	if o, ok := l.forAll(fields); ok {
		return o
	}
	s := &scanner{list: l, mode: m, pending: -1}
	for len(fields) > 0 {
		end := slices.IndexFunc(fields, func(f field) bool { return f.kind == separator })
		if end < 0 {
			end = len(fields)
		}
		s.segment(fields[:end])
		fields = fields[min(end+1, len(fields)):]
	}
	s.drop()
	l.fill(&s.outcome)
	return s.outcome
}

// want returns the want of the nth reading; past the end, that of the last.
func (l *list) want(n int) Want {
	if len(l.wants) == 0 {
		return Want{}
	}
	return l.wants[min(n, len(l.wants)-1)]
}

func (l *list) parse(start, end, n int) result {
	if len(l.wants) > 0 {
		n = min(n, len(l.wants)-1)
	} else {
		n = 0
	}
	key := span{start, end, n}
	if r, ok := l.seen[key]; ok {
		return r
	}
	var r result
	r.r, r.d = Parse(l.raw[start:end], l.want(n))
	l.seen[key] = r
	return r
}

func (l *list) lower(f field) string { return strings.ToLower(l.raw[f.start:f.end]) }

var allWords = map[string]bool{"all": true, "both": true, "each": true, "everything": true, "everywhere": true}

// forAll reads "all OL", "both 0", "all three open", "0 on all" for several wants.
func (l *list) forAll(fields []field) (outcome, bool) {
	n := len(l.wants)
	if n < 2 {
		return outcome{}, false
	}
	for len(fields) > 0 && fields[0].kind == text && fillers[l.lower(fields[0])] {
		fields = fields[1:]
	}
	if len(fields) < 2 {
		return outcome{}, false
	}
	rest := fields
	switch last := len(fields) - 1; {
	case allWords[l.lower(fields[0])]:
		rest = fields[1:]
		if said, ok := l.count(rest[0]); ok && len(rest) > 1 {
			n = said
			rest = rest[1:]
		} else if l.lower(fields[0]) == "both" {
			n = 2
		}
		for len(rest) > 1 && slices.Contains([]string{"of", "them", "wires", "leads", "are", "is", "read"}, l.lower(rest[0])) {
			rest = rest[1:]
		}
	default:
		if said, ok := l.count(fields[last]); ok && last > 1 && allWords[l.lower(fields[last-1])] {
			n = said
			last--
		} else if l.lower(fields[last]) == "both" {
			n = 2
		}
		if !allWords[l.lower(fields[last])] {
			return outcome{}, false
		}
		if rest = fields[:last]; len(rest) > 1 && l.lower(rest[last-1]) == "on" {
			rest = rest[:last-1]
		}
	}
	if slices.ContainsFunc(rest, func(f field) bool { return f.kind != text }) {
		return outcome{}, false
	}
	start, end := rest[0].start, rest[len(rest)-1].end
	var o outcome
	for i := range n {
		r := l.parse(start, end, i)
		if !r.recognised() {
			return outcome{}, false
		}
		o.found = append(o.found, item{text: l.raw[start:end], result: r})
	}
	return o, true
}

// count reads "three" or "3" in "all three".
func (l *list) count(f field) (n int, ok bool) {
	w := l.lower(f)
	if v, ok := smallWords[w]; ok {
		return int(v), v >= 2 && v <= 12
	}
	if !plainDigits(w) || len(w) > 2 {
		return 0, false
	}
	n, err := strconv.Atoi(w)
	return n, err == nil && n >= 2 && n <= 12
}

// fill repeats the last reading for "rest OL", "the other two OL". A reading for "all"
// or "rest" in any other place is of unknown count.
func (l *list) fill(o *outcome) {
	shared := func(where string) ([]string, bool) {
		words := strings.Fields(strings.ToLower(where))
		if len(words) > 0 && words[0] == "the" {
			words = words[1:]
		}
		return words, len(words) > 0 && sharers[words[0]]
	}
	for i, f := range o.found {
		words, ok := shared(f.where)
		if !ok {
			continue
		}
		missing := len(l.wants) - i
		if i == 0 || i != len(o.found)-1 || missing < 1 || !repeats(words, missing) {
			o.left = f.where
			return
		}
		at := strings.LastIndex(l.raw, f.text)
		o.found = o.found[:i]
		for j := i; j < len(l.wants); j++ {
			o.found = append(o.found, item{text: f.text, result: l.parse(at, at+len(f.text), j)})
		}
		return
	}
}

// repeats reports whether the words say that a reading goes for all n that are missing.
func repeats(words []string, n int) bool {
	if words[0] == "both" || words[0] == "each" || words[0] == "all" {
		return false
	}
	for _, w := range words[1:] {
		if v, ok := smallWords[w]; ok && v == int64(n) || w == strconv.Itoa(n) || w == "of" || w == "them" || w == "wires" || w == "leads" {
			continue
		}
		return false
	}
	return true
}
