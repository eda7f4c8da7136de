package flows

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
)

func TestTableChecks(t *testing.T) {
	m := theTable(t)
	require.Empty(t, m.Check())
	require.Equal(t, Intake, m.Start())
	for _, g := range gates() {
		require.Contains(t, m.States(), g.at)
	}
	require.Len(t, gates(), len(m.States()), "every state has a gate")
}

// Every state but an end and a grave stop, where only a senior acts, has a question;
// every question is put in some state; each code is there once.
func TestEveryStateHasAQuestion(t *testing.T) {
	m := theTable(t)
	put := make(map[string]bool)
	for _, s := range m.States() {
		list := PromptsOf(s)
		want := len(asksOf(s)) + len(anywhere(s))
		require.Len(t, list, want, "%s names a question that the table of questions has not", s)
		for _, a := range list {
			put[a.Code] = true
		}
		if !m.Final(s) && s != StoppedGrave {
			require.NotEmpty(t, list, "%s", s)
		}
	}
	seen := make(map[string]bool)
	for _, a := range safety.Asks() {
		require.False(t, seen[a.Code], "%s is there twice", a.Code)
		seen[a.Code] = true
		require.True(t, put[a.Code], "%s is put nowhere", a.Code)
	}
	for code := range answers {
		require.True(t, seen[code], "%s is not a question", code)
	}
}

// In every state, the first question that nothing is lacking for can always be put:
// the dialog never stands still for want of something it may say.
func TestSomethingMayAlwaysBeAsked(t *testing.T) {
	m := theTable(t)
	_, err := m.Walk(Intake, 0, func(p machine.Place[struct{}]) error {
		if m.Final(p.At) || p.At == StoppedGrave {
			return nil
		}
		for _, a := range PromptsOf(p.At) {
			if MayAsk(p.At, p.Facts, Code(a.Code)) == 0 {
				return nil
			}
		}
		return errors.New("nothing may be asked")
	})
	require.NoError(t, err)
}

func TestMayAsk(t *testing.T) {
	dead := safety.ProvedDead | safety.HereDead
	require.Zero(t, MayAsk(Isolate, dead, "ask_reading"))
	require.Equal(t, safety.PairsDead|safety.HereDead, MayAsk(Isolate, safety.ProvedDead&^safety.PairsDead, "ask_reading"))
	require.Equal(t, safety.NeutralDead, MayAsk(Isolate, dead, "ask_lift_neutral"))
	require.NotZero(t, MayAsk(Intake, safety.All, "ask_reading"), "not a question of that state")
	require.NotZero(t, MayAsk(Isolate, safety.All, "ask_nothing_known"), "not a question")
	require.Equal(t, safety.SiteDecides, MayAsk(SwitchOn, safety.MaySwitchOn&^safety.SiteDecides, "ask_switch_on"))
}

// A job from the first word to the end, event by event. The order of making safe and
// of closing up is that of 29 CFR 1910.147(d) and 1910.333(b)(2)(v).
func TestOneJob(t *testing.T) {
	at, facts := Intake, safety.Facts(0)
	play := func(events ...machine.Event) {
		t.Helper()
		for _, on := range events {
			out, err := Fire(at, facts, on)
			require.NoError(t, err)
			require.Zero(t, out.Lack, "%s in %s lacks %s", on, at, out.Lack)
			at, facts = out.To, out.Facts
		}
	}
	play(OnUnitKnown, OnTickNobodyHurt, OnLevelOK, OnTickKit, OnTickSources, OnTickKitchen, OnTickUnitOff,
		OnTickIsolated, OnTickLocked, OnTickReleased, OnTickTried, OnTickCover,
		OnKnownBefore, OnPairsDead, OnKnownAfter, OnGuarded, OnProved)
	require.Equal(t, Isolate, at)

	refused, err := Fire(at, facts, OnNeutralLifted)
	require.NoError(t, err)
	require.Equal(t, machine.Outcome{To: Isolate, Facts: facts, Lack: safety.NeutralDead}, refused)

	play(OnReading, OnNeutralWanted, OnNeutralDead, OnNeutralLifted, OnReading, OnCoverWanted, OnOpenedHere, OnHereDead,
		OnReading, OnSuspect, OnReading, OnPause, Back(Confirm), OnProvedCause, OnAgreed, OnMended,
		OnLanded, OnLandedBarNeutral, OnFrameBonded, OnLegsClear, OnLegsSound, OnInsulationNotDue, OnAllLanded,
		OnToolsOff, OnCoversOn, OnPeopleClear)
	require.Equal(t, CloseUp, at)
	refused, err = Fire(at, facts, OnSiteDecides)
	require.NoError(t, err)
	require.Equal(t, safety.LockOff|safety.LooksRight, refused.Lack)
	play(OnLockOff, OnLooksRight, OnSiteDecides, OnStepHeld, OnHeld, OnWorks)
	require.Equal(t, Done, at)
	require.Zero(t, facts&safety.Dead, "nothing is called dead that is on")
}

func TestFireUnexpected(t *testing.T) {
	for _, bad := range []struct {
		at machine.State
		on machine.Event
	}{{Intake, OnHeld}, {"nowhere", OnStop}, {Done, OnStop}} {
		_, err := Fire(bad.at, 0, bad.on)
		var unexpected *ErrUnexpected
		require.ErrorAs(t, err, &unexpected)
		require.Equal(t, ErrUnexpected{State: bad.at, Event: bad.on}, *unexpected)
	}
}

// In every pair, what a step gives by the state-machine library is what the rule says,
// and a gate that refuses changes nothing.
func TestStepsFollowTheRules(t *testing.T) {
	m := theTable(t)
	refused := 0
	_, err := m.Walk(Intake, 0, func(p machine.Place[struct{}]) error {
		for _, r := range m.Rules(p.At) {
			out, err := m.Step(p.At, p.Facts, r.On)
			want := machine.Outcome{To: r.To, Facts: p.Facts&^r.Drops | r.Sets, Sets: r.Sets, Drops: r.Drops}
			if lack := r.Needs &^ p.Facts; lack != 0 {
				refused++
				want = machine.Outcome{To: p.At, Facts: p.Facts, Lack: lack}
			}
			if err != nil || out != want {
				return fmt.Errorf("%s: got %+v, %w, want %+v", r.On, out, err, want)
			}
		}
		return nil
	})
	require.NoError(t, err)
	require.Positive(t, refused)
}

// Back leads to a state of the table from every place an interrupt can come from.
func TestBack(t *testing.T) {
	m := theTable(t)
	for _, s := range m.States() {
		if _, ok := m.Rule(s, OnPause); !ok || s == AskDanger || s == Paused {
			continue
		}
		for _, from := range []machine.State{AskDanger, Paused} {
			_, ok := m.Rule(from, Back(s))
			require.True(t, ok, "%s from %s", Back(s), from)
		}
	}
}

func BenchmarkFire(b *testing.B) {
	dead := safety.ProvedDead | safety.HereDead
	for b.Loop() {
		if _, err := Fire(Isolate, dead, OnReading); err != nil {
			b.Fatal(err)
		}
	}
}
