package engine_test

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"halfsplit/bot"
	"halfsplit/bot/engine"
)

func TestSplit(t *testing.T) {
	for _, c := range []struct {
		name, text string
		limit      int
		want       []string
	}{
		{"no limit", "abc def", 0, []string{"abc def"}},
		{"fits", "abc", 3, []string{"abc"}},
		{"empty", "", 3, []string{""}},
		{"space just behind the limit", "abc def", 3, []string{"abc", "def"}},
		{"word", "abc defg", 5, []string{"abc", "defg"}},
		{"line before word", "one two\nthree four", 12, []string{"one two", "three four"}},
		{"paragraph before line", "one\n\ntwo\nthree", 10, []string{"one", "two\nthree"}},
		{"runes, not bytes", "ΩΩΩΩΩ", 2, []string{"ΩΩ", "ΩΩ", "Ω"}},
		{"mark stays with its letter", "aae\u0301aa", 3, []string{"aa", "e\u0301a", "a"}},
		{"marks beyond the limit are cut all the same", "a\u0301\u0301\u0301\u0301", 2, []string{"a\u0301", "\u0301\u0301", "\u0301"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			equal(t, c.want, engine.Split(c.text, c.limit))
		})
	}
}

func FuzzSplit(f *testing.F) {
	f.Add("Read 14 to frame: 13 Ω.\n\nThen put the phone down.", 20)
	f.Add("\n \n", 1)
	f.Add("e\u0301e\u0301 👩\u200d🔧", 2)
	f.Fuzz(func(t *testing.T, text string, limit int) {
		if limit < 0 || limit > 1000 || !utf8.ValidString(text) {
			t.Skip() // what is said is stored as JSON and is valid
		}
		bare := func(s string) string {
			return strings.Map(func(r rune) rune {
				if unicode.IsSpace(r) {
					return -1
				}
				return r
			}, s)
		}
		parts := engine.Split(text, limit)
		equal(t, bare(text), bare(strings.Join(parts, "")), "nothing but white space is lost")
		for _, p := range parts {
			if limit > 0 {
				yes(t, utf8.RuneCountInString(p) <= limit)
			}
			yes(t, p != "" || len(parts) == 1)
			yes(t, utf8.ValidString(p))
		}
	})
}

func TestDegrade(t *testing.T) {
	choices := []bot.Choice{{Word: "held"}, {Word: "tripped"}}
	parts, shown := engine.Degrade("Did it hold?", choices, bot.Limits{Choices: 2})
	equal(t, []string{"Did it hold?"}, parts)
	equal(t, choices, shown)
	parts, shown = engine.Degrade("Did it hold?", choices, bot.Limits{Choices: 1})
	equal(t, []string{"Did it hold?\n[held · tripped]"}, parts)
	equal(t, 0, len(shown))
}
