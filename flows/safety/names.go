package safety

import (
	"encoding/json"
	"fmt"
	"math/bits"
	"strings"
)

// names are stored in trails: the list is only added to, in the order of the facts.
var names = [...]string{
	"nobody_hurt", "qualified", "kit_ready", "sources_read", "kitchen_told", "unit_off",
	"isolated", "locked", "released", "tried_start", "cover_opened",
	"known_before", "pairs_dead", "known_after", "guarded",
	"neutral_dead", "here_dead",
	"cause_proved", "mended", "frame_bonded", "legs_sound", "legs_clear", "insulated",
	"all_landed", "covers_on", "tools_off", "people_clear", "lock_off", "looks_right",
	"site_decides", "senior_agrees",
	"held", "ends_safe", "site_locked",
}

// Has reports whether every fact of want is in f.
func (f Facts) Has(want Facts) bool { return f&want == want }

// List returns the single facts of f, in order.
func (f Facts) List() []Facts {
	list := make([]Facts, 0, bits.OnesCount64(uint64(f)))
	for f != 0 {
		one := f & -f
		list = append(list, one)
		f &^= one
	}
	return list
}

// Names returns the names of the facts of f, in order.
func (f Facts) Names() []string {
	list := make([]string, 0, bits.OnesCount64(uint64(f)))
	for _, one := range f.List() {
		if n := bits.TrailingZeros64(uint64(one)); n < len(names) {
			list = append(list, names[n])
		} else {
			list = append(list, fmt.Sprintf("fact_%d", n))
		}
	}
	return list
}

// String gives the names with commas between them, "none" for no facts.
func (f Facts) String() string {
	if f == 0 {
		return "none"
	}
	return strings.Join(f.Names(), ", ")
}

// UnknownFact is the error of a name that no fact has.
type UnknownFact struct{ Name string }

func (e *UnknownFact) Error() string { return fmt.Sprintf("no fact is called %q", e.Name) }

// Parse returns the facts of those names. Its error is an *UnknownFact.
func Parse(list []string) (Facts, error) {
	var f Facts
next:
	for _, name := range list {
		for n := range names {
			if names[n] == name {
				f |= 1 << n
				continue next
			}
		}
		return 0, &UnknownFact{Name: name}
	}
	return f, nil
}

// MarshalJSON writes f as a list of names in order, so that a trail can be read
// without this program. Its error is an *UnknownFact.
func (f Facts) MarshalJSON() ([]byte, error) {
	if rest := f &^ All; rest != 0 {
		return nil, &UnknownFact{Name: rest.Names()[0]}
	}
	return json.Marshal(f.Names())
}

// UnmarshalJSON reads what MarshalJSON wrote, in this release or an earlier one.
func (f *Facts) UnmarshalJSON(data []byte) error {
	var list []string
	if err := json.Unmarshal(data, &list); err != nil {
		return fmt.Errorf("facts: %w", err)
	}
	got, err := Parse(list)
	if err != nil {
		return fmt.Errorf("facts: %w", err)
	}
	*f = got
	return nil
}

// Groups returns the names of f with whole groups under one name, the largest first.
func (f Facts) Groups() []string {
	var list []string
	for _, g := range []struct {
		name  string
		facts Facts
	}{
		{"ALL", All}, {"MAY_SWITCH_ON", MaySwitchOn}, {"AT_WORK", AtWork}, {"PROVED_DEAD", ProvedDead},
		{"TO_COVER", ToCover}, {"DEAD", Dead}, {"CLOSING", Closing}, {"PERMIT", Permit}, {"PROOF", Proof},
		{"READINGS", Readings}, {"LEAVING", Leaving},
	} {
		if f.Has(g.facts) {
			list = append(list, g.name)
			f &^= g.facts
		}
	}
	return append(list, f.Names()...)
}
