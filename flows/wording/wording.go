// Package wording holds every sentence the bot says, by code, one table a language.
// It knows nothing of the dialog: a sentence is a text with named holes.
package wording

import (
	"slices"
	"strings"
)

// Arg is the value for one hole of a sentence.
type Arg struct {
	Name  string
	Value string
}

// English is the language that has every sentence.
const English = "en"

// Text returns the sentence of a code in a language, its holes filled. A language or
// sentence that is missing falls back to English; ok is false if there is no such
// sentence at all or a hole has no value, and the text then still says what is known.
//
// A hole is {name}; {name?one|other} is "one" if the value of name is "1", "other" if
// it is anything else.
func Text(lang, code string, args ...Arg) (text string, ok bool) {
	form, ok := table(lang)[code]
	if !ok {
		if form, ok = english[code]; !ok {
			return code, false
		}
	}
	return render(form, args)
}

// render fills the holes of a form; ok is false if one has no value.
func render(form string, args []Arg) (text string, ok bool) {
	var out strings.Builder
	ok = true
	for {
		before, after, found := strings.Cut(form, "{")
		out.WriteString(before)
		if !found {
			return out.String(), ok
		}
		end := closing(after)
		if end < 0 {
			out.WriteString("{" + after)
			return out.String(), false
		}
		filled, known := fill(after[:end], args)
		out.WriteString(filled)
		ok = ok && known
		form = after[end+1:]
	}
}

// closing is where the brace closes that was opened before text; -1 if nowhere.
func closing(text string) int {
	depth := 0
	for i, r := range text {
		switch r {
		case '{':
			depth++
		case '}':
			if depth == 0 {
				return i
			}
			depth--
		}
	}
	return -1
}

func fill(hole string, args []Arg) (string, bool) {
	name, forms, choose := strings.Cut(hole, "?")
	i := slices.IndexFunc(args, func(a Arg) bool { return a.Name == name })
	if i < 0 {
		return "{" + hole + "}", false
	}
	if !choose {
		return args[i].Value, true
	}
	one, other, _ := strings.Cut(forms, "|")
	if args[i].Value == "1" {
		return render(one, args)
	}
	return render(other, args)
}

// Codes returns the codes of a language in ascending order, nil if it has no table.
func Codes(lang string) []string {
	var all []string
	for code := range table(lang) {
		all = append(all, code)
	}
	slices.Sort(all)
	return all
}

// Languages returns the languages that have a table.
func Languages() []string { return []string{English} }

// Holes returns the names of the holes of a sentence in the order of their first use.
func Holes(lang, code string) []string {
	var names []string
	form := table(lang)[code]
	for {
		_, after, found := strings.Cut(form, "{")
		if !found {
			return names
		}
		name := after[:max(strings.IndexAny(after, "?}"), 0)]
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
		form = after
	}
}

func table(lang string) map[string]string {
	if lang == English {
		return english
	}
	return nil
}
