package console

import (
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"halfsplit/bot"
)

func TestLayout(t *testing.T) {
	long := "Touch the three wires of the lower right screw (T2), now off it: red 14, orange 15, red 16. Three numbers."
	for _, c := range []struct {
		name, text string
		choices    []bot.Choice
		want       string
	}{
		{"short", "Heard.", nil, "bot   Heard.\n"},
		{"signs", "Ω µ < & * _ \\", nil, "bot   Ω µ < & * _ \\\n"},
		{"two lines and a gap", "one\n\n  two", nil, "bot   one\n\n        two\n"},
		{"spaces inside a line that fits", "14:   12 Ω   OL", nil, "bot   14:   12 Ω   OL\n"},
		{"long", long, nil, "bot   Touch the three wires of the lower right screw (T2), now off it: red 14,\n" +
			"      orange 15, red 16. Three numbers.\n"},
		{"hangs under its own indent", "  - " + long, nil,
			"bot     - Touch the three wires of the lower right screw (T2), now off it: red\n" +
				"        14, orange 15, red 16. Three numbers.\n"},
		{"choices", "Did it hold?", []bot.Choice{{Word: "yes", Label: "held"}, {Word: "no"}, {Label: "not sure"}},
			"bot   Did it hold?\n      answer: yes / no / not sure\n"},
		{"one choice", "Ready?", []bot.Choice{{Word: "ready"}}, "bot   Ready?\n      answer: ready\n"},
		{"no text", "", nil, "bot\n"},
		{"end of line trimmed", "one \n\n", nil, "bot   one\n"},
		{"steering the terminal", "a\x1b[2Jb\x07\x00\u009b1m\u202ec\rd\te", nil, "bot   a[2Jb1mc d e\n"},
		{"not UTF-8", "a\xffb", nil, "bot   a\ufffdb\n"},
	} {
		if got := layout("bot", c.text, c.choices); got != c.want {
			t.Errorf("%s:\n got %q\nwant %q", c.name, got, c.want)
		}
	}
}

func TestLayoutOfManyChoices(t *testing.T) {
	var cs []bot.Choice
	for range 12 {
		cs = append(cs, bot.Choice{Word: "not sure at all"})
	}
	lines := strings.Split(strings.TrimSuffix(layout("bot", "Which?", cs), "\n"), "\n")[1:]
	for _, l := range lines {
		if utf8.RuneCountInString(l) > 78 {
			t.Errorf("%d columns: %q", utf8.RuneCountInString(l), l)
		}
		for w := range strings.SplitSeq(strings.TrimPrefix(strings.TrimSpace(l), "answer: "), "/") {
			if w = strings.TrimSpace(w); w != "" && w != "not sure at all" {
				t.Errorf("a choice was broken: %q", l)
			}
		}
	}
	if len(lines) < 3 {
		t.Errorf("got %q", lines)
	}
}

// The place of a break is decided by one column.
func TestWrapAtTheEdge(t *testing.T) {
	for _, c := range []struct {
		text  string
		limit int
		want  []string
	}{
		{"abc def", 7, []string{"abc def"}},
		{"abc def", 6, []string{"abc", "def"}},
		{"abc def", 2, []string{"abc", "def"}},               // words are not cut
		{"it is 12 Ω now", 8, []string{"it is", "12 Ω now"}}, // a number and its unit
		{"it is 12 Ω, so", 8, []string{"it is", "12 Ω, so"}},
		{"it is 12 of", 8, []string{"it is 12", "of"}},
		{"it is 12\u00a0of", 8, []string{"it is", "12\u00a0of"}},
		{"it is 12\u202fof", 8, []string{"it is", "12\u202fof"}},
		{"ab → cd", 4, []string{"ab →", "cd"}},
		{"e\u0301e\u0301 ab", 5, []string{"e\u0301e\u0301 ab"}}, // marks take no column
		{"漢字 ab", 6, []string{"漢字", "ab"}},                      // wide ones take two
		{"漢字 ab", 7, []string{"漢字 ab"}},
	} {
		if got := wrap(c.text, c.limit); !slices.Equal(got, c.want) {
			t.Errorf("%q in %d: got %q, want %q", c.text, c.limit, got, c.want)
		}
	}
}

// Laying out loses no word, breaks none and keeps to the width wherever words allow.
func FuzzLayout(f *testing.F) {
	f.Add("Next: two-pole contactor, left wall. Black lead on bare frame. 12 Ω to frame.\n\n  - one\n")
	f.Add(strings.Repeat("x", 200) + " " + strings.Repeat("µ ", 100))
	f.Add("\x00\xff\u00a0\u2028")
	f.Fuzz(func(t *testing.T, text string) {
		words := func(s string) []string {
			return strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '\n' })
		}
		got := layout("bot", text, nil)
		body, ok := strings.CutPrefix(got, "bot")
		if !ok || !strings.HasSuffix(got, "\n") || !utf8.ValidString(got) {
			t.Fatalf("%q became %q", text, got)
		}
		if want := words(clean(text)); !slices.Equal(words(body), want) {
			t.Errorf("%q has words %q, want %q", text, words(body), want)
		}
		for l := range strings.SplitSeq(got, "\n") {
			l = strings.TrimPrefix(l, "bot")
			if cells(l) > columns && len(words(l)) > 3 { // a long word may stand with a unit and a dash
				t.Errorf("%d columns: %q", cells(l), l)
			}
		}
	})
}
