package machine_test

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
)

// door is a small table with every sort of edge: plain, gated, to itself, final.
func door() []machine.Rule {
	return []machine.Rule{
		{From: "shut", On: "look", To: "shut"},
		{From: "shut", On: "unlock", To: "shut", Sets: safety.LockOff, Drops: safety.Locked},
		{From: "shut", On: "lock", To: "shut", Sets: safety.Locked, Drops: safety.LockOff},
		{From: "shut", On: "open", To: "open", Needs: safety.LockOff, Sets: safety.CoverOpened},
		{From: "open", On: "close", To: "shut", Drops: safety.CoverOpened},
		{From: "open", On: "leave", To: "gone", Drops: safety.LockOff | safety.CoverOpened, Sets: safety.LockOff},
	}
}

func TestStep(t *testing.T) {
	m, err := machine.New("shut", []machine.State{"gone"}, door())
	require.NoError(t, err)
	require.Empty(t, m.Check())

	out, err := m.Step("shut", safety.Locked, "open")
	require.NoError(t, err, "a gate that refuses is no error")
	require.Equal(t, machine.Outcome{To: "shut", Facts: safety.Locked, Lack: safety.LockOff}, out)

	out, err = m.Step("shut", safety.Locked, "look")
	require.NoError(t, err, "an edge to the same state is no error")
	require.Equal(t, machine.Outcome{To: "shut", Facts: safety.Locked}, out)

	out, err = m.Step("shut", safety.Locked, "unlock")
	require.NoError(t, err)
	require.Equal(t, machine.Outcome{To: "shut", Facts: safety.LockOff, Sets: safety.LockOff, Drops: safety.Locked}, out)

	out, err = m.Step("open", safety.CoverOpened, "leave")
	require.NoError(t, err)
	require.Equal(t, safety.LockOff, out.Facts, "drops first, then sets")

	_, err = m.Step("shut", 0, "leave")
	var noRule *machine.NoRule
	require.ErrorAs(t, err, &noRule)
	require.Equal(t, machine.NoRule{At: "shut", On: "leave"}, *noRule)

	_, err = m.Step("ajar", 0, "open")
	var unknown *machine.UnknownState
	require.ErrorAs(t, err, &unknown)

	require.Equal(t, []machine.Event{"look", "unlock", "lock", "open"}, m.Events("shut"))
	require.Equal(t, []machine.State{"shut", "open", "gone"}, m.States())
}

// Steps from many goroutines do not disturb each other: nothing is kept between them.
func TestStepsAreIndependent(t *testing.T) {
	m, err := machine.New("shut", []machine.State{"gone"}, door())
	require.NoError(t, err)
	done := make(chan error)
	for range 8 {
		go func() {
			var bad error
			for range 200 {
				out, err := m.Step("shut", safety.LockOff, "open")
				if err != nil || out.To != "open" || out.Facts != safety.LockOff|safety.CoverOpened {
					bad = fmt.Errorf("got %+v, %w", out, err)
				}
			}
			done <- bad
		}()
	}
	for range 8 {
		require.NoError(t, <-done)
	}
}

func TestNewRefusesWhatIsAmbiguous(t *testing.T) {
	for name, rules := range map[string][]machine.Rule{
		"double":  append(door(), machine.Rule{From: "shut", On: "open", To: "gone"}),
		"name":    append(door(), machine.Rule{From: "shut", On: "Kick it", To: "gone"}),
		"no name": append(door(), machine.Rule{From: "shut", On: "", To: "gone"}),
		"state":   append(door(), machine.Rule{From: "shut", On: "kick", To: "9th"}),
	} {
		_, err := machine.New("shut", []machine.State{"gone"}, rules)
		var p *machine.Problem
		require.ErrorAs(t, err, &p, name)
	}
}

func TestCheckReports(t *testing.T) {
	rules := append(door(),
		machine.Rule{From: "island", On: "swim", To: "shut"},
		machine.Rule{From: "open", On: "fall", To: "cellar"},
		machine.Rule{From: "cellar", On: "shout", To: "cellar"},
		machine.Rule{From: "gone", On: "return", To: "shut"})
	m, err := machine.New("shut", []machine.State{"gone"}, rules)
	require.NoError(t, err)
	got := make(map[machine.State]string)
	for _, e := range m.Check() {
		var p *machine.Problem
		require.ErrorAs(t, e, &p)
		got[p.State] = p.What
	}
	require.Equal(t, map[machine.State]string{
		"island": "cannot be reached",
		"cellar": "dead end that is not final",
		"gone":   "final, yet a rule leaves it",
	}, got)
}

func TestWalkFindsEveryPairOnceByAShortestPath(t *testing.T) {
	m, err := machine.New("shut", []machine.State{"gone"}, door())
	require.NoError(t, err)
	var got []string
	n, err := m.Walk("shut", safety.Locked, func(p machine.Place[struct{}]) error {
		got = append(got, fmt.Sprint(p.At, " ", p.Facts, " ", p.Path()))
		return nil
	})
	require.NoError(t, err)
	require.Equal(t, []string{ // counted by hand from the table
		"shut locked []",
		"shut lock_off [unlock]",
		"open cover_opened, lock_off [unlock open]",
		"gone lock_off [unlock open leave]",
	}, got)
	require.Len(t, got, n)

	bad := errors.New("a door stands open")
	_, err = m.Walk("shut", safety.Locked, func(p machine.Place[struct{}]) error {
		if p.At == "open" {
			return bad
		}
		return nil
	})
	require.ErrorIs(t, err, bad)
	require.ErrorContains(t, err, "unlock open")
}

// A watcher keeps apart two ways to one pair that the facts do not tell apart.
func TestWatch(t *testing.T) {
	m, err := machine.New("shut", []machine.State{"gone"}, door())
	require.NoError(t, err)
	looked := make(map[bool]bool)
	_, err = machine.Watch(m, []machine.Pair{{At: "shut"}}, false,
		func(w bool, r machine.Rule) bool { return w || r.On == "look" },
		func(p machine.Place[bool]) error {
			if p.At == "gone" {
				looked[p.Watch] = true
			}
			return nil
		})
	require.NoError(t, err)
	require.Equal(t, map[bool]bool{false: true, true: true}, looked)
}

func TestMermaid(t *testing.T) {
	m, err := machine.New("shut", []machine.State{"gone"}, door())
	require.NoError(t, err)
	require.Equal(t, `stateDiagram-v2
    [*] --> shut
    shut --> open: open ?lock_off +cover_opened
    open --> shut: close
    open --> gone: leave +lock_off
    gone --> [*]
`, m.Mermaid(func(r machine.Rule) bool { return r.From != r.To }))
}
