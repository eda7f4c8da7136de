package quantity_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	. "halfsplit/flows/quantity"
)

func plain(s string) string { return strings.ReplaceAll(s, "\u00a0", " ") }

func sayList(ls []Located, d *Doubt) string {
	if d != nil {
		return plain(say(Reading{}, d))
	}
	var parts []string
	for _, l := range ls {
		s := plain(l.Reading.String())
		if l.Where != "" {
			s = l.Where + ": " + s
		}
		parts = append(parts, s)
	}
	return strings.Join(parts, " | ")
}

func TestParseList(t *testing.T) {
	n := func(w Want, k int) []Want { return slices.Repeat([]Want{w}, k) }
	live := append(append(n(volts, 1), n(volts, 6)...), volts)
	tests := []struct {
		text  string
		wants []Want
		says  string
	}{
		{"13, ol, ol", n(ohms, 3), "13 Ω | OL | OL"},
		{"13,ol,ol", n(ohms, 3), "13 Ω | OL | OL"},
		{"13 ol ol", n(ohms, 3), "13 Ω | OL | OL"},
		{"13/OL/OL", n(ohms, 3), "13 Ω | OL | OL"},
		{"13; ol; ol", n(ohms, 3), "13 Ω | OL | OL"},
		{"13 ol and ol", n(ohms, 3), "13 Ω | OL | OL"},
		{"13\nol\nol", n(ohms, 3), "13 Ω | OL | OL"},
		{"13, O/L, 0.L", n(ohms, 3), "13 Ω | OL | OL"},
		{"13, 0,L, 0 L", n(ohms, 3), "13 Ω | OL | OL"},
		{"12, 2M, 19", n(ohms, 3), "12 Ω | 2 MΩ | 19 Ω"},
		{"208 0 0 0 0 0 0 208", live, "208 V | 0 V | 0 V | 0 V | 0 V | 0 V | 0 V | 208 V"},
		{"208, 0.1, 0, 0, 0.2 V, 0, 0, 207", live, "208 V | 0.1 V | 0 V | 0 V | 0.2 V | 0 V | 0 V | 207 V"},
		{"L1-L2 0 L1-N 0", n(volts, 2), "L1-L2: 0 V | L1-N: 0 V"},
		{"L1-L2 0", n(volts, 1), "L1-L2: 0 V"},
		{"L1 230", n(volts, 1), "L1: 230 V"},
		{"L1-L2: 208, L1-N: 120", n(volts, 2), "L1-L2: 208 V | L1-N: 120 V"},
		{"L1-L2=208 L1-N=120", n(volts, 2), "L1-L2: 208 V | L1-N: 120 V"},
		{"L1/L2 208", n(volts, 1), "L1/L2: 208 V"},
		{"14: 13, 15: ol", n(ohms, 2), "14: 13 Ω | 15: OL"},
		{"14:13 15:ol", n(ohms, 2), "14: 13 Ω | 15: OL"},
		{"14 to frame 13", n(ohms, 1), "14 to frame: 13 Ω"},
		{"14 to frame 13 15 to frame ol", n(ohms, 2), "14 to frame: 13 Ω | 15 to frame: OL"},
		{"14 to frame: 13", n(ohms, 1), "14 to frame: 13 Ω"},
		{"14 to frame, 13", n(ohms, 1), "14 to frame: 13 Ω"},
		{"14 to 16 OL", n(ohms, 1), "14 to 16: OL"},
		{"14-16 OL", n(ohms, 1), "14-16: OL"},
		{"14 to 16 13", n(ohms, 1), "14 to 16: 13 Ω"},
		{"3 to 4, ol", n(ohms, 2), "3 to 4 Ω | OL"},
		{"3-4 ol", n(ohms, 2), "3 to 4 Ω | OL"},
		{"red 14 13, orange 15 ol", n(ohms, 2), "red 14: 13 Ω | orange 15: OL"},
		{"wire 14 13 ohm", n(ohms, 1), "wire 14: 13 Ω"},
		{"K1:T1 to frame 13", n(ohms, 1), "K1:T1 to frame: 13 Ω"},
		{"K1:A1 - K1:A2: 520 ohm", n(ohms, 1), "K1:A1 - K1:A2: 520 Ω"},
		{"12 ohm, 208 V", []Want{ohms, volts}, "12 Ω | 208 V"},

		// One want.
		{"0,4", n(ohms, 1), "0.4 Ω"},
		{"1,200", n(ohms, 1), "? thousand: 1.200 Ω, 1200 Ω"},
		{"1 1/2", n(ohms, 1), "1.5 Ω"},
		{"13, ol, ol", n(ohms, 1), "? count: 13 Ω, OL, OL"},
		{"12 13", n(ohms, 1), "? count: 12 Ω, 13 Ω"},
		{"nothing", n(ohms, 1), "? nothing: OL, 0 Ω"},
		{"it tripped", n(ohms, 1), "? not a number"},
		{"13 ohm from 14 to frame", n(ohms, 1), "14 to frame: 13 Ω"},

		// Several wants.
		{"208,120", n(volts, 2), "208 V | 120 V"},
		{"13,5", n(ohms, 2), "13 Ω | 5 Ω"},
		{"3/4", n(ohms, 2), "3 Ω | 4 Ω"},
		{"1,200 13", n(ohms, 2), "? thousand: 1.200 Ω, 1200 Ω"},
		{"13, ol", n(ohms, 3), "? count: 13 Ω, OL"},
		{"13, 1, ol", n(ohms, 3), "? bare one: OL, 1 Ω"},
		{"13, nothing, ol", n(ohms, 3), "? nothing: OL, 0 Ω"},
		{"13, huh, ol", n(ohms, 3), "? count: 13 Ω, OL"},
		{"two hundred and eight, one twenty", n(volts, 2), "208 V | 120 V"},
		{"all OL", n(ohms, 3), "OL | OL | OL"},
		{"all three OL", n(ohms, 3), "OL | OL | OL"},
		{"OL on all three", n(ohms, 3), "OL | OL | OL"},
		{"0 on all", n(volts, 3), "0 V | 0 V | 0 V"},
		{"both open", n(ohms, 2), "OL | OL"},
		{"13, rest ol", n(ohms, 3), "13 Ω | OL | OL"},
		{"all three OL", n(ohms, 2), "? count: OL, OL, OL"},

		{"14 is 13 and 15 is OL", n(ohms, 2), "14: 13 Ω | 15: OL"},
		{"14 was 13 ohms, the rest OL", n(ohms, 3), "14: 13 Ω | OL | OL"},
		{"13 and the other two OL", n(ohms, 3), "13 Ω | OL | OL"},
		{"13 and the other two OL", n(ohms, 4), "? count: 13 Ω, OL"},
		{"208, all 0, 208", live, "? count: 208 V, 0 V, 208 V"},
		{"13 on 14, ol on 15", n(ohms, 2), "14: 13 Ω | 15: OL"},
		{"2.3M L1-PE, 2.1M L2-PE", n(ohms, 2), "L1-PE: 2.3 MΩ | L2-PE: 2.1 MΩ"},
		{"0 L1-L2 0 L1-N", n(volts, 2), "? not a number"},
		{"frame to 14 13", n(ohms, 1), "frame to 14: 13 Ω"},
		{"- 13\n- ol\n- ol", n(ohms, 3), "13 Ω | OL | OL"},
		{"nothing on any", n(volts, 3), "? nothing: 0 V, OL"},
		{"14 - 13, 15 - ol", n(ohms, 2), "? not a number"},
		{"first 13 then ol then ol", n(ohms, 3), "first: 13 Ω | OL | OL"},
		{"E1:1 to E1:2 61.8", n(ohms, 1), "E1:1 to E1:2: 61.8 Ω"},
		{"L1 to L2 208, L1 to N 120, L2 to N 119.8", n(volts, 3), "L1 to L2: 208 V | L1 to N: 120 V | L2 to N: 119.8 V"},

		// Free text.
		{"13 ohm on 14 and OL on 15", nil, "14: 13 Ω | 15: OL"},
		{"plate warmer 208V trips at once", nil, "? not a number"},
		{"14 to frame 13", nil, "14 to frame: 13"},
		{"I read 13 ohm from 14 to frame", nil, "14 to frame: 13 Ω"},
		{"14 to frame 13, 15 ol", nil, "14 to frame: 13 | 15: OL"},
		{"hi, what now", nil, "? not a number"},
		{"it tripped 3 times", nil, "? not a number"},
		{"cook did it 3 times, nothing yet", nil, "? nothing: OL, 0"},
		{"2.3M on 14", nil, "14: 2.3 MΩ"},
		{"between 14 and frame OL", nil, "between 14 and frame: OL"},
		{"breaker 14 off", nil, "? not a number"},
	}
	for _, tt := range tests {
		assert.Equal(t, tt.says, sayList(ParseList(tt.text, tt.wants)), "%q × %d", tt.text, len(tt.wants))
	}
}
