package engine

import (
	"strings"
	"unicode"
	"unicode/utf8"

	"halfsplit/bot"
)

// Split cuts text into parts of at most limit runes each; limit zero means no limit.
// It cuts at an empty line, else at a line end, else at a space, else between two
// characters; never inside a rune, and never between a letter and the marks that
// belong to it. The white space at a cut is left out, nothing else. No part is empty
// unless the whole text is.
func Split(text string, limit int) []string {
	if limit <= 0 || utf8.RuneCountInString(text) <= limit {
		return []string{text}
	}
	var parts []string
	rest := strings.TrimSpace(text)
	for utf8.RuneCountInString(rest) > limit {
		at := cut(rest, limit)
		if part := strings.TrimRightFunc(rest[:at], unicode.IsSpace); part != "" {
			parts = append(parts, part)
		}
		rest = strings.TrimLeftFunc(rest[at:], unicode.IsSpace)
	}
	if rest != "" || len(parts) == 0 {
		parts = append(parts, rest)
	}
	return parts
}

// cut returns the byte offset of the best cut in s after 1 to limit runes. s is
// longer than limit runes and does not begin with white space.
func cut(s string, limit int) int {
	end, n := 0, 0 // byte offset after limit runes
	for end < len(s) && n < limit {
		_, size := utf8.DecodeRuneInString(s[end:])
		end += size
		n++
	}
	// A separator may stand just behind the limit: it is left out of the part.
	_, size := utf8.DecodeRuneInString(s[end:])
	window := s[:end+size]
	least := end / 3 // a cut nearer to the start wastes a message
	if i := strings.LastIndex(window, "\n\n"); i > 0 && i >= least {
		return i
	}
	if i := strings.LastIndexByte(window, '\n'); i > 0 && i >= least {
		return i
	}
	if i := strings.LastIndexFunc(window, unicode.IsSpace); i > 0 {
		return i
	}
	for at := end; at > 0; {
		r, _ := utf8.DecodeRuneInString(s[at:])
		before, size := utf8.DecodeLastRuneInString(s[:at])
		if !clings(r) && before != zeroWidthJoiner {
			return at
		}
		at -= size
	}
	return end
}

const zeroWidthJoiner = '\u200d'

// clings reports whether r belongs to the character before it.
func clings(r rune) bool {
	return unicode.In(r, unicode.Mn, unicode.Me, unicode.Mc) || r == zeroWidthJoiner || unicode.Is(unicode.Variation_Selector, r)
}

// Degrade fits a text and its choices to what an adapter can post. Choices it cannot
// show are written out as words behind the text. The prompt and the choices go with
// the last part.
func Degrade(text string, choices []bot.Choice, l bot.Limits) (parts []string, shown []bot.Choice) {
	if len(choices) > l.Choices {
		words := make([]string, len(choices))
		for i, c := range choices {
			words[i] = c.Word
		}
		text = strings.TrimRight(text, "\n ") + "\n" + "[" + strings.Join(words, " · ") + "]"
	} else {
		shown = choices
	}
	return Split(text, l.Runes), shown
}
