package circuit

import (
	"slices"
	"strconv"
	"strings"
)

// fields are the keys of one mapping, already checked for unknown and double ones.
type fields struct {
	spot
	what string
	got  []field
	near []string // keys that an unknown key was probably meant to be
}

// keys checks that v is a mapping with known keys only, each once. what names the
// mapping in complaints. A value that is no mapping gives no fields.
func (r *reader) keys(v value, what string, known ...string) fields {
	f := fields{spot: v.spot, what: what}
	if v.shape != mapping {
		r.complain(v.spot, "keys: "+strings.Join(known, ", "), "%s is not a set of keys", what)
		return f
	}
	for _, k := range v.fields {
		switch {
		case !slices.Contains(known, k.key):
			r.complain(k.spot, r.oneOf(k.key, known), "%s has no key %q%s", what, k.key, commaHint(k))
			f.near = append(f.near, nearest(k.key, known))
		case slices.ContainsFunc(f.got, func(o field) bool { return o.key == k.key }):
			r.complain(k.spot, "it once", "%q is given twice for %s", k.key, what)
		default:
			f.got = append(f.got, k)
		}
	}
	return f
}

// commaHint explains a key without a value: within braces it is often the rest of a
// text with a comma.
func commaHint(k field) string {
	if k.shape == absent {
		return " (a text with a comma in it needs quotes)"
	}
	return ""
}

// entries are the keys of a mapping whose keys are names chosen by the writer.
func (r *reader) entries(v value, what, example string) []field {
	if v.shape == absent || v.shape == list && len(v.items) == 0 {
		return nil
	}
	if v.shape != mapping {
		r.complain(v.spot, example, "%s is not a set of names with a colon each", what)
		return nil
	}
	var got []field
	for _, k := range v.fields {
		if slices.ContainsFunc(got, func(o field) bool { return o.key == k.key }) {
			r.complain(k.spot, "another name", "%q is given twice in %s", k.key, what)
			continue
		}
		got = append(got, k)
	}
	return got
}

// get returns the value of a key; false if the key is not there or has no value.
func (f fields) get(key string) (value, bool) {
	for _, k := range f.got {
		if k.key == key && k.shape != absent {
			return k.value, true
		}
	}
	return value{spot: f.spot}, false
}

// need is get with a complaint if the key is missing.
func (r *reader) need(f fields, key, write string) (value, bool) {
	v, ok := f.get(key)
	if !ok && !slices.Contains(f.near, key) {
		at := f.spot
		for _, k := range f.got {
			if k.key == key {
				at = k.spot
			}
		}
		r.complain(at, write, "%s does not give %q", f.what, key)
	}
	return v, ok
}

// text returns a scalar; false, with a complaint, if v is a list or a set of keys.
func (r *reader) text(v value, what string) (string, bool) {
	if v.shape != scalar {
		r.complain(v.spot, "one value", "%s is not a single value", what)
		return "", false
	}
	return v.text, true
}

// words returns a text that may be missing; "?" means not known and gives "".
func (r *reader) words(f fields, key string) string {
	v, ok := f.get(key)
	if !ok {
		return ""
	}
	s, _ := r.text(v, key)
	if s == "?" {
		return ""
	}
	return s
}

// texts returns a list of scalars. A single scalar is a list of one.
func (r *reader) texts(v value, what, example string) []value {
	switch v.shape {
	case scalar:
		return []value{v}
	case list:
		var all []value
		for _, item := range v.items {
			if item.shape != scalar {
				r.complain(item.spot, example, "an entry of %s is not a single value", what)
				continue
			}
			all = append(all, item)
		}
		return all
	}
	r.complain(v.spot, example, "%s is not a list", what)
	return nil
}

// truth reads yes or no. Anything else is a complaint.
func (r *reader) truth(f fields, key string, otherwise bool) bool {
	v, ok := f.get(key)
	if !ok {
		return otherwise
	}
	switch v.text {
	case "yes":
		return true
	case "no":
		return false
	}
	r.complain(v.spot, key+": yes or "+key+": no", "%q is neither yes nor no", v.text)
	return otherwise
}

// choice reads one of a few words; "" with a complaint if it is none of them.
func (r *reader) choice(v value, what string, known ...string) string {
	s, ok := r.text(v, what)
	if ok && !slices.Contains(known, s) {
		r.complain(v.spot, r.oneOf(s, known), "%s cannot be %q", what, s)
		return ""
	}
	return s
}

// oneOf tells what to write instead of a word that is not among the known ones: the
// nearest if one is near, else all.
func (r *reader) oneOf(word string, known []string) string {
	if n := nearest(word, known); n != "" {
		return strconv.Quote(n)
	}
	if len(known) == 0 {
		return "nothing here"
	}
	return "one of: " + strings.Join(known, ", ")
}

// nearest returns the known word that differs least from word, "" if none is near.
func nearest(word string, known []string) string {
	best, least := "", max(2, len([]rune(word))/3)+1
	for _, k := range known {
		d := editDistance(strings.ToLower(word), strings.ToLower(k))
		if d < least && d < max(len([]rune(k)), len([]rune(word))) {
			best, least = k, d
		}
	}
	return best
}

// editDistance counts insertions, deletions and replacements from a to b.
func editDistance(a, b string) int {
	x, y := []rune(a), []rune(b)
	if len(x) > 40 || len(y) > 40 {
		return max(len(x), len(y))
	}
	row := make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := range x {
		diagonal := row[0]
		row[0] = i + 1
		for j := range y {
			cost := diagonal
			if x[i] != y[j] {
				cost = 1 + min(diagonal, row[j], row[j+1])
			}
			diagonal, row[j+1] = row[j+1], cost
		}
	}
	return row[len(y)]
}

// measure is a unit of measurement with the words for it.
type measure struct {
	name  string
	words []string
}

var (
	volts    = measure{"V", []string{"v", "volt", "volts", "vac"}}
	watts    = measure{"W", []string{"w", "watt", "watts"}}
	amps     = measure{"A", []string{"a", "amp", "amps"}}
	hertz    = measure{"Hz", []string{"hz", "hertz"}}
	ohms     = measure{"ohm", []string{"ohm", "ohms", "Ω", "ω", "Ω"}}
	minutes  = measure{"min", []string{"min", "minute", "minutes"}}
	celsius  = measure{"°C", []string{"°c", "c"}}
	voltamps = measure{"VA", []string{"va"}}
	microfar = measure{"uF", []string{"uf", "µf", "μf"}}
)

// splitNumber cuts "2.2 kohm" into 2.2, the factor 1000 and "ohm". The factor is kept
// apart so that a bare "2.2k" can be seen to have no unit.
func splitNumber(s string) (x float64, unit string, ok bool) {
	s = strings.TrimSpace(s)
	end := 0
	for end < len(s) && (s[end] >= '0' && s[end] <= '9' || s[end] == '.') {
		end++
	}
	x, err := strconv.ParseFloat(s[:end], 64)
	if err != nil || !finite(x) {
		return 0, "", false
	}
	return x, strings.TrimSpace(s[end:]), true
}

// quantity reads a number with its unit. bare allows the number alone, where the key
// already names the unit. The result is above zero; ok is false after a complaint.
func (r *reader) quantity(v value, what string, m measure, bare bool, example string) (float64, bool) {
	s, ok := r.text(v, what)
	if !ok {
		return 0, false
	}
	x, why := readQuantity(s, m, bare)
	if why != "" {
		r.complain(v.spot, example, "%s: %q %s", what, s, why)
		return 0, false
	}
	return x, true
}

// readQuantity returns a number in the given measure, or why it is none.
func readQuantity(s string, m measure, bare bool) (x float64, why string) {
	x, unit, ok := splitNumber(s)
	if !ok {
		return 0, "is not a number"
	}
	switch {
	case unit == "" && !bare:
		return 0, "has no unit"
	case unit == "" || slices.Contains(m.words, strings.ToLower(unit)):
	case strings.HasPrefix(unit, "k") && scaled(unit[1:], m, bare):
		x *= 1e3
	case strings.HasPrefix(unit, "M") && scaled(unit[1:], m, bare):
		x *= 1e6
	default:
		return 0, "has the unit " + unit + ", not " + m.name
	}
	if x <= 0 {
		return 0, "is not above zero"
	}
	if x > 1e9 {
		return 0, "is too large"
	}
	return x, ""
}

func scaled(rest string, m measure, bare bool) bool {
	rest = strings.TrimSpace(rest)
	return rest == "" && bare && m.name == "ohm" || slices.Contains(m.words, strings.ToLower(rest))
}

// whole reads a whole number from lo to hi; otherwise if the key is not there.
func (r *reader) whole(f fields, key string, lo, hi, otherwise int) int {
	v, ok := f.get(key)
	if !ok {
		return otherwise
	}
	s, ok := r.text(v, key)
	if !ok {
		return otherwise
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < lo || n > hi {
		r.complain(v.spot, key+": a whole number from "+strconv.Itoa(lo)+" to "+strconv.Itoa(hi), "%s cannot be %q", key, s)
		return otherwise
	}
	return n
}
