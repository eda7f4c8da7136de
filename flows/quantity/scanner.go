package quantity

import (
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

// scanner walks the segments between separators and finds places and readings.
type scanner struct {
	*list
	mode
	outcome
	pending    int // start of words that wait for their reading, -1 if none
	pendingEnd int
}

// longestReading is the most fields one reading may have.
const longestReading = 12

// connectors stand between the two ends of a place.
var connectors = map[string]bool{"to": true, "-": true, "–": true, "—": true, "→": true, "->": true, "against": true, "vs": true, "and": true}

// openers stand before a place; the field after one belongs to it.
var openers = map[string]bool{"from": true, "between": true, "on": true, "at": true, "across": true, "for": true, "in": true, "to": true, "with": true}

// bearers are followed by the number of a wire.
var bearers = map[string]bool{"wire": true, "wires": true, "lead": true, "leads": true, "terminal": true, "pin": true, "number": true, "no": true, "no.": true, "nr": true, "conductor": true}

// verbs stand between a place and its reading.
var verbs = map[string]bool{"is": true, "was": true, "reads": true, "read": true, "shows": true, "gives": true, "says": true}

// sharers give one reading to several questions.
var sharers = map[string]bool{"other": true, "others": true, "rest": true, "remaining": true, "all": true, "both": true, "each": true}

// label is what is printed on terminals, alone or in pairs: "L1-PE", "K1:T1", "T2".
var label = regexp.MustCompile(`^(?:[a-z]{1,3}[0-9]{0,2}[-/:][a-z]{0,3}[0-9]{0,2}|[a-z]{1,2}[0-9]{1,2})$`)

var colours = map[string]bool{
	"red": true, "black": true, "white": true, "blue": true, "green": true, "yellow": true, "brown": true, "orange": true,
	"grey": true, "gray": true, "violet": true, "purple": true, "pink": true,
}

// longest finds the longest reading that begins at fields[i]; end is i if there is none.
func (s *scanner) longest(fields []field, i int) (end int, best result) {
	end = i
	for j := i + 1; j <= len(fields) && j <= i+longestReading; j++ {
		last := fields[j-1]
		if last.kind == colon {
			break
		}
		if j > i+1 && fillers[s.lower(last)] {
			continue
		}
		if r := s.parse(fields[i].start, last.end, len(s.found)); r.recognised() {
			end, best = j, r
		}
	}
	return end, best
}

// segment reads what stands between two separators.
func (s *scanner) segment(fields []field) {
	for len(fields) > 0 && fields[0].kind == text && (s.lower(fields[0]) == "*" || s.lower(fields[0]) == "-" && s.bullets) {
		fields = fields[1:]
	}
	before := len(s.found)
	from := s.pending // start of the place being read
	fromEnd := s.pendingEnd
	place := func(f field) {
		if from < 0 {
			from = f.start
		}
		fromEnd = f.end
	}
	forced := false // the next field belongs to the place
	for i := 0; i < len(fields); {
		f := fields[i]
		if f.kind == colon {
			// What stands before it is a place, whatever it looks like.
			i++
			forced = false
			continue
		}
		w := s.lower(f)
		if forced {
			place(f)
			forced = false
			i++
			if i < len(fields) && connectors[s.lower(fields[i])] {
				place(fields[i])
				forced = true
				i++
			}
			continue
		}
		end, r := s.longest(fields, i)
		if end > i && s.isPlace(fields, i, end, from >= 0) {
			if next := i + 1; next < len(fields) && connectors[s.lower(fields[next])] && !s.numeric(fields, next) {
				end = next
			}
			for ; i < end; i++ {
				place(fields[i])
			}
			if i < len(fields) && connectors[s.lower(fields[i])] {
				place(fields[i])
				forced = true
				i++
			}
			continue
		}
		if end > i {
			where := ""
			if from >= 0 {
				where = s.raw[from:fromEnd]
			}
			it := item{where: where, text: s.raw[f.start:fields[end-1].end], result: r}
			from = -1
			i = end
			if where == "" {
				if k := s.placeAfter(fields, i); k > i {
					it.where = s.raw[fields[k-1].start:fields[len(fields)-1].end]
					i = len(fields)
				}
			}
			s.found = append(s.found, it)
			continue
		}
		if !fillers[w] {
			place(f)
			forced = openers[w] && w != "to" && w != "with" && w != "for"
		}
		i++
	}
	if from >= 0 && len(s.found) > before {
		// Words after a reading that are no place for another: "3 times".
		s.left = s.raw[from:fromEnd]
		from = -1
	}
	s.pending, s.pendingEnd = from, fromEnd
}

// placeAfter looks for a place from fields[i] to the end of the segment: "from 14 to
// frame", "on 14", "L1-PE". It returns one more than the index of its first field, or
// i if there is none.
func (s *scanner) placeAfter(fields []field, i int) int {
	if i >= len(fields) || slices.ContainsFunc(fields[i:], func(f field) bool { return f.kind == colon }) {
		return i
	}
	first := s.lower(fields[i])
	k := i
	switch {
	case first == "to" && i+1 < len(fields):
	case openers[first] && i+1 < len(fields):
		k++
	case label.MatchString(first):
	default:
		return i
	}
	// A wire number may follow an opener; any other reading means that this is no place.
	opened := k > i || first == "to"
	plain := func(j int) bool { return plainInt(s.lower(fields[j])) }
	for j := k; j < len(fields); j++ {
		end, _ := s.longest(fields, j)
		wire := end == j+1 && plain(j) || end == j+3 && plain(j) && plain(j+2)
		if end > j && !(opened && wire) {
			return i
		}
	}
	return k + 1
}

// numeric reports whether a plain number stands at fields[i+1], after a connector.
func (s *scanner) numeric(fields []field, i int) bool {
	return i+1 < len(fields) && fields[i+1].kind == text && plainInt(s.raw[fields[i+1].start:fields[i+1].end])
}

// isPlace decides whether what looks like a reading in fields[i:end] is the number of
// a wire.
func (s *scanner) isPlace(fields []field, i, end int, after bool) bool {
	if end < len(fields) && fields[end].kind == colon {
		return true
	}
	first := s.raw[fields[i].start:fields[i].end]
	lower := strings.ToLower(first)
	readingAt := func(j int) bool {
		if j >= len(fields) || fields[j].kind == colon {
			return false
		}
		e, _ := s.longest(fields, j)
		return e > j
	}
	if s.numbers {
		readingAt = func(int) bool { return false }
	}
	if end == i+1 {
		if _, n := s.count(fields[i]); !plainInt(first) && !(n && i > 0 && sharers[s.lower(fields[i-1])]) {
			// "14-15 OL"
			a, b, ok := strings.Cut(first, "-")
			return ok && a != "" && b != "" && plainInt(a) && plainInt(b) && readingAt(end)
		}
		if end < len(fields) && connectors[s.lower(fields[end])] && s.lower(fields[end]) != "and" {
			return true
		}
		if end < len(fields) && verbs[s.lower(fields[end])] && readingAt(end+1) {
			return true // "14 is 13"
		}
		if i > 0 && fields[i-1].kind == text {
			before := s.lower(fields[i-1])
			if after && connectors[before] || sharers[before] {
				return readingAt(end) // "frame to 14 13", "other two OL"
			}
			return bearers[before] || after && colours[before] && readingAt(end)
		}
		// "14 to frame 13, 15 ol": places are being given.
		k := len(s.found)
		return i == 0 && !after && k > 0 && s.found[k-1].where != "" && readingAt(end)
	}
	if openers[lower] && lower != "to" && lower != "for" {
		return readingAt(end)
	}
	// "14 to 16 OL" against "14 to 16 ohms"
	if plainInt(first) && connectors[s.lower(fields[i+1])] && end == i+3 {
		return readingAt(end)
	}
	return false
}

// drop notes words that no reading followed. In free text only digits, OL and single
// letters matter: the rest is talk.
func (s *scanner) drop() {
	if s.pending < 0 {
		return
	}
	left := strings.TrimSpace(s.raw[s.pending:s.pendingEnd])
	if len(s.wants) == 0 && !slices.ContainsFunc(scan(normalise(left)), telling) {
		return
	}
	s.left = left
}

// telling reports whether a token may be part of a reading that was not recognised.
func telling(t token) bool {
	return t.kind == number || t.text == string(utf8.RuneError) || slices.Contains(strings.Split(t.lower, "'"), "ol") || t.kind == word && len(t.text) == 1 && t.lower != "i" && t.lower != "a"
}
