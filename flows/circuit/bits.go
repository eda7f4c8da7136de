package circuit

import (
	"encoding/json"
	"fmt"
	"strings"
)

// maxBit is the greatest member a Bits may have; With ignores more. It only guards
// against a set read from a damaged record; a unit of 2,000 wires stays far below.
const maxBit = 1 << 16

// Has reports whether i is in the set.
func (b Bits) Has(i int) bool {
	return i >= 0 && i/8 < len(b) && b[i/8]&(1<<(i%8)) != 0
}

// With returns the set with i in it. An i below 0 or above 65,536 changes nothing.
func (b Bits) With(i int) Bits {
	if i < 0 || i > maxBit || b.Has(i) {
		return b
	}
	raw := make([]byte, max(len(b), i/8+1))
	copy(raw, b)
	raw[i/8] |= 1 << (i % 8)
	return Bits(raw)
}

// Without returns the set without i.
func (b Bits) Without(i int) Bits {
	if !b.Has(i) {
		return b
	}
	raw := []byte(b)
	raw[i/8] &^= 1 << (i % 8)
	return Bits(strings.TrimRight(string(raw), "\x00"))
}

// Len is the number of members.
func (b Bits) Len() int {
	n := 0
	for i := range len(b) {
		for v := b[i]; v != 0; v &= v - 1 {
			n++
		}
	}
	return n
}

// Each returns the members in ascending order, nil if there are none.
func (b Bits) Each() []int {
	var all []int
	for i := range 8 * len(b) {
		if b.Has(i) {
			all = append(all, i)
		}
	}
	return all
}

// BitsOf returns the set of the given members.
func BitsOf(members ...int) Bits {
	var b Bits
	for _, i := range members {
		b = b.With(i)
	}
	return b
}

// String lists the members: "{0 3 17}".
func (b Bits) String() string {
	return "{" + strings.Trim(fmt.Sprint(b.Each()), "[]") + "}"
}

// MarshalJSON writes the members as an ascending list: [0,3,17].
func (b Bits) MarshalJSON() ([]byte, error) {
	all := b.Each()
	if all == nil {
		all = []int{}
	}
	return json.Marshal(all)
}

// UnmarshalJSON reads a list of members in any order.
func (b *Bits) UnmarshalJSON(data []byte) error {
	var all []int
	if err := json.Unmarshal(data, &all); err != nil {
		return fmt.Errorf("circuit: set of numbers: %w", err)
	}
	for _, i := range all {
		if i < 0 || i > maxBit {
			return fmt.Errorf("circuit: set of numbers: %d is not within 0 to %d", i, maxBit)
		}
	}
	*b = BitsOf(all...)
	return nil
}

// Of returns the position of part p, which is rest if none was recorded.
func (s Places) Of(p PartID, rest int) int {
	if p < 0 || int(p) >= len(s) || s[p] == 0 {
		return rest
	}
	return int(s[p]) - 1
}

// With returns the list with part p at position pos; a pos below 0 or above 254
// forgets what was recorded, so that the part counts as at rest. To record that a
// part stands at rest and to record nothing are different lists; State.Move records
// nothing at rest, so that equal circuits have equal states.
func (s Places) With(p PartID, pos int) Places {
	if p < 0 || int(p) > maxBit {
		return s
	}
	raw := make([]byte, max(len(s), int(p)+1))
	copy(raw, s)
	raw[p] = 0
	if pos >= 0 && pos < 255 {
		raw[p] = byte(pos + 1)
	}
	return Places(strings.TrimRight(string(raw), "\x00"))
}

// MarshalJSON writes one number a part: the position, or -1 where none is recorded.
func (s Places) MarshalJSON() ([]byte, error) {
	all := make([]int, len(s))
	for i := range len(s) {
		all[i] = int(s[i]) - 1
	}
	return json.Marshal(all)
}

// UnmarshalJSON reads what MarshalJSON writes.
func (s *Places) UnmarshalJSON(data []byte) error {
	var all []int
	if err := json.Unmarshal(data, &all); err != nil {
		return fmt.Errorf("circuit: list of positions: %w", err)
	}
	if len(all) > maxBit {
		return fmt.Errorf("circuit: list of positions: %d parts are too many", len(all))
	}
	var out Places
	for i, pos := range all {
		if pos < -1 || pos >= 255 {
			return fmt.Errorf("circuit: list of positions: %d is not within -1 to 254", pos)
		}
		if pos >= 0 {
			out = out.With(PartID(i), pos)
		}
	}
	*s = out
	return nil
}
