package wording_test

import (
	"testing"

	"halfsplit/flows/wording"
)

func TestText(t *testing.T) {
	n := func(v string) wording.Arg { return wording.Arg{Name: "n", Value: v} }
	for _, c := range []struct {
		code, want string
		args       []wording.Arg
		ok         bool
	}{
		{"read.number_wanted", "I need the number off the meter, or OL.", []wording.Arg{n("1")}, true},
		{"read.number_wanted", "I need the 3 numbers off the meter, or OL.", []wording.Arg{n("3")}, true},
		{"say.closed", "That question is closed.", nil, true},
		{"report.readings", "Readings: {n}.", nil, false},
		{"none.such", "none.such", nil, false},
	} {
		got, ok := wording.Text("en", c.code, c.args...)
		if got != c.want || ok != c.ok {
			t.Errorf("%s %v: %q %v, want %q %v", c.code, c.args, got, ok, c.want, c.ok)
		}
	}
	// A language without a table falls back to English.
	if got, ok := wording.Text("xx", "say.closed"); got != "That question is closed." || !ok {
		t.Errorf("fallback: %q %v", got, ok)
	}
}
