package flows

import (
	"errors"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
)

// The proof of the table. It has two halves.
//
// The walk goes through every (state, facts) pair that any events can lead to, beside
// a watcher that knows the history and not the facts: which steps of proving dead were
// taken since anything could last be live, which evidence is still good. The facts
// must never claim more than the history gives.
//
// The audit asks each edge and each question alone: with everything established but
// one thing that safety asks for, is it refused? A gate may not lean on the gates
// before it, since a trail may have been written by an earlier table.
//
// Sources: 29 CFR 1910.147(d), (e); 1910.333(b)(2); 1910.334(b)(2); GS38;
// EN 50110-1 §6.2; NFPA 70E 120.5.

// order is the order in which a unit is made safe and proved dead.
var order = []safety.Facts{
	safety.NobodyHurt, safety.Qualified, safety.KitReady, safety.SourcesRead, safety.KitchenTold,
	safety.UnitOff, safety.Isolated, safety.Locked, safety.Released, safety.TriedStart, safety.CoverOpened,
	safety.KnownBefore, safety.PairsDead, safety.KnownAfter, safety.Guarded,
}

// closing is the order of 1910.333(b)(2)(v) with the covers between tools and people.
var closing = []safety.Facts{
	safety.ToolsOff, safety.CoversOn, safety.PeopleClear, safety.LockOff, safety.LooksRight,
}

func upTo(list []safety.Facts, f safety.Facts) safety.Facts {
	var before safety.Facts
	for _, one := range list {
		if one == f {
			break
		}
		before |= one
	}
	return before
}

const (
	repairing   = safety.AtWork | safety.CauseProved
	measuring   = repairing | safety.Mended
	fourRead    = safety.FrameBonded | safety.LegsSound | safety.LegsClear | safety.Insulated
	allMeasured = safety.CauseProved | safety.Mended | fourRead
)

// entering is what must hold on the way into a state, from any other.
func entering(s machine.State) safety.Facts {
	switch s {
	case Isolate, CheckNeutral, Confirm:
		return safety.AtWork
	case OpenHere, ProveHere:
		return safety.ProvedDead
	case Verdict, Repair:
		return repairing
	case Land, Permit:
		return measuring
	case CloseUp:
		return allMeasured | safety.AllLanded
	case SwitchOn:
		return safety.MaySwitchOn
	case Verify:
		return safety.Held
	}
	return 0
}

// inUnit are the states in which hands or probes are in the unit.
func inUnit(s machine.State) bool {
	switch s {
	case Isolate, CheckNeutral, OpenHere, ProveHere, Confirm, Repair, Land, Permit:
		return true
	}
	return false
}

// establishing is what must hold when a fact is set in a state.
func establishing(f safety.Facts, at machine.State) safety.Facts {
	switch f {
	case safety.NeutralDead, safety.CauseProved:
		return safety.AtWork
	case safety.HereDead:
		return safety.ProvedDead
	case safety.Mended:
		return repairing
	case safety.FrameBonded, safety.LegsSound, safety.LegsClear, safety.Insulated:
		return measuring
	case safety.AllLanded:
		return safety.AtWork | allMeasured
	case safety.ToolsOff, safety.CoversOn, safety.PeopleClear, safety.LockOff, safety.LooksRight:
		if at == LeaveSafe {
			leave := safety.EndsSafe | upTo(closing, f)
			if f == safety.CoversOn { // hands at the unit: it stays dead under the tech's lock
				leave |= safety.Isolated | safety.Locked
			}
			return leave
		}
		return allMeasured | safety.AllLanded | upTo(closing, f)
	case safety.SeniorAgrees: // on top of everything else, never before it
		return allMeasured | safety.AllLanded | safety.ToolsOff | safety.CoversOn | safety.PeopleClear |
			safety.LockOff | safety.LooksRight
	case safety.SiteDecides:
		return safety.MaySwitchOn &^ safety.SiteDecides
	case safety.Held:
		return safety.MaySwitchOn
	case safety.SiteLocked: // the tech's own lock is on until the site's is
		return safety.EndsSafe | safety.ToolsOff | safety.CoversOn | safety.Isolated | safety.Locked
	}
	return upTo(order, f)
}

// demanded is everything that safety asks of one edge.
func demanded(r machine.Rule) safety.Facts {
	var need safety.Facts
	if r.From != r.To {
		need |= entering(r.To)
	}
	for _, f := range r.Sets.List() {
		if f != safety.EndsSafe {
			need |= establishing(f, r.From)
		}
	}
	switch r.On {
	case OnEndsSafe: // capped by hand
		need |= safety.AtWork
	case OnNeutralLifted:
		need |= safety.AtWork | safety.NeutralDead
	case OnSiteDecidesAdvice:
		need |= safety.SeniorAgrees
	case OnWorks:
		need |= safety.Held | safety.AllLanded | safety.CoversOn
	case OnLeftSafe:
		need |= safety.EndsSafe | safety.ToolsOff | safety.CoversOn | safety.SiteLocked
	}
	return need &^ r.Sets
}

// losing is what an event makes untrue, whatever state it comes in.
func losing(r machine.Rule) safety.Facts {
	const (
		proof  = safety.KnownBefore | safety.PairsDead | safety.KnownAfter | safety.Guarded | safety.NeutralDead | safety.HereDead
		dead   = safety.Isolated | safety.Locked | safety.Released | safety.TriedStart | safety.CoverOpened | proof
		closed = safety.AllLanded | safety.CoversOn | safety.ToolsOff | safety.PeopleClear | safety.LockOff | safety.LooksRight |
			safety.SiteDecides | safety.SeniorAgrees
		left     = safety.EndsSafe | safety.SiteLocked
		evidence = allMeasured
	)
	if r.From == SwitchOn && (r.On == OnPause || r.On == OnDangerMaybe || r.On == OnNotNow) {
		// Broken off: who was clear may have come back, what was looked at may have changed.
		need := safety.PeopleClear | safety.LooksRight | safety.SiteDecides | safety.SeniorAgrees
		if r.On != OnNotNow {
			need |= safety.UnitOff // nobody said how far the switching had come
		}
		return need
	}
	switch r.On {
	case OnTesterFailed, OnLowVoltsFound, OnProofOld: // nothing measured holds
		return proof
	case OnReadingJumps:
		return proof | fourRead
	case OnCoversOn:
		return proof | safety.CoverOpened
	case OnLockOff:
		return dead
	case OnNeutralShared: // another leg is still on
		return dead | fourRead
	case OnLiveFound, OnNeutralLive: // a source that nobody listed
		return dead | evidence | closed | safety.SourcesRead
	case OnHeld: // the unit is on
		return dead | safety.UnitOff | safety.SiteDecides // used up
	case OnTripped, OnWorksNot, OnWasSwitchedOn, OnSpark:
		return dead | evidence | closed | left | safety.UnitOff | safety.Held
	case OnAway, OnReopened: // nobody had it in sight, or hands were in: all from the unit's switch on
		return dead | fourRead | closed | left | safety.UnitOff | safety.Held
	case OnPersonChanged: // another person: own level, own kit, own reading of the sources
		return dead | fourRead | closed | left | safety.UnitOff | safety.Qualified | safety.KitReady | safety.SourcesRead
	case OnLevelLow:
		return dead | safety.Qualified
	case OnTingle, OnStop, OnStopGrave, OnFalseAlarm2, OnSeniorClears:
		return safety.All
	case OnCoverWanted:
		return safety.HereDead
	case OnNeutralWanted:
		return safety.NeutralDead
	case OnPermitFailed, OnConfirmationVoided, OnDoubted:
		if r.From == CloseUp { // the way back in is made safe again
			return dead | evidence | closed
		}
		return evidence | safety.AllLanded
	case OnPermitVoided:
		return fourRead
	}
	return 0
}

// audit checks one edge alone.
func audit(r machine.Rule) error {
	if keeps := losing(r) &^ r.Drops; keeps != 0 && r.From != StoppedGrave {
		return fmt.Errorf("%s from %s keeps %s", r.On, r.From, keeps)
	}
	for _, f := range demanded(r).List() {
		if r.Lack(safety.All&^f) == 0 {
			return fmt.Errorf("%s from %s to %s is let by without %s", r.On, r.From, r.To, f)
		}
	}
	return nil
}

// answers is the fact that a question is there to establish.
var answers = map[string]safety.Facts{
	"ask_cover": safety.CoverOpened, "ask_proof": safety.KnownBefore, "ask_known_before": safety.KnownBefore,
	"ask_pairs": safety.PairsDead, "ask_known_after": safety.KnownAfter, "ask_guarded": safety.Guarded,
	"ask_mended":       safety.Mended,
	"ask_frame_bonded": safety.FrameBonded, "ask_legs_sound": safety.LegsSound, "ask_legs_clear": safety.LegsClear,
	"ask_insulation": safety.Insulated, "ask_all_landed": safety.AllLanded,
	"ask_tools": safety.ToolsOff, "ask_covers": safety.CoversOn, "ask_people": safety.PeopleClear,
	"ask_lock": safety.LockOff, "ask_looks_right": safety.LooksRight, "ask_site": safety.SiteDecides,
	"ask_leave_tools": safety.ToolsOff, "ask_leave_covers": safety.CoversOn, "ask_site_lock": safety.SiteLocked,
}

// demandedOf is everything that safety asks before a question is put in a state.
func demandedOf(a safety.Ask, at machine.State) safety.Facts {
	var need safety.Facts
	switch a.Touch {
	case safety.Inside:
		need = safety.AtWork
	case safety.AsIfLive: // a cover or the tester: all but the measuring is done
		need = upTo(order, safety.CoverOpened)
		if at == OpenHere || at == ProveHere {
			need = safety.ProvedDead
		}
	case safety.Energises:
		need = safety.MaySwitchOn
	}
	if a.Neutral {
		need |= safety.NeutralDead
	}
	if f, ok := answers[a.Code]; ok {
		need |= establishing(f, at)
	}
	if a.Code == "ask_works" {
		need |= safety.Held
	}
	return need
}

func auditAsk(a safety.Ask, at machine.State) error {
	for _, f := range demandedOf(a, at).List() {
		if a.Needs&^(safety.All&^f) == 0 {
			return fmt.Errorf("%s in %s is put without %s", a.Code, at, f)
		}
	}
	return nil
}

// history is what the watcher of the walk knows. It reads the names of events only.
type history struct {
	proof    uint8        // steps of prove-test-prove in order: known, pairs, known, guarded
	here     bool         // proved in the compartment opened last
	opened   bool         // another cover came off since
	neutral  bool         // neutral found dead
	cause    bool         // proved on evidence that is still good
	mended   bool         // after that
	readings safety.Facts // of the permit, after that
	live     bool         // switched on, and not made safe since
	grave    bool         // a shock, fire or injury that no senior has cleared
	stopped  bool         // a stop that nobody has cleared
	first    bool         // called a false alarm once
}

func (h history) after(r machine.Rule) history {
	unproved := func() {
		h.proof, h.here, h.opened, h.neutral = 0, false, false, false
	}
	evidenceGone := func() { h.cause, h.mended, h.readings = false, false, 0 }
	switch r.On {
	case OnKnownBefore:
		h.proof = max(h.proof, 1)
	case OnPairsDead:
		if h.proof >= 1 {
			h.proof = max(h.proof, 2)
		}
	case OnKnownAfter:
		if h.proof >= 2 {
			h.proof = max(h.proof, 3)
		}
	case OnGuarded:
		if h.proof >= 3 {
			h.proof = 4
		}
	case OnProved, OnProvedRepair, OnProvedLand, OnProvedPermit:
		h.here, h.opened = h.proof == 4, false
	case OnCoverWanted:
		h.here = false
	case OnOpenedHere:
		h.opened = true
	case OnCoverKept, OnCoverKeptConfirm, OnCoverKeptRepair, OnCoverKeptLand, OnCoverKeptPermit:
		h.here = h.proof == 4 && !h.opened
	case OnHereDead, OnHereConfirm, OnHereRepair, OnHereLand, OnHerePermit:
		h.here, h.opened = h.proof == 4, false
	case OnNeutralWanted, OnNeutralKept, OnNeutralKeptConfirm, OnNeutralKeptPermit:
		h.neutral = false
	case OnNeutralDead, OnNeutralConfirm, OnNeutralPermit:
		h.neutral = h.proof == 4
	case OnProvedCause:
		h.cause, h.mended, h.readings = true, false, 0
	case OnMended:
		h.mended, h.readings = h.cause, 0
	case OnFrameBonded, OnLegsSound, OnLegsClear, OnInsulated, OnInsulationNotDue:
		if h.mended && h.proof == 4 {
			h.readings |= r.Sets
		}
	case OnPermitVoided:
		h.readings = 0
	case OnPermitFailed, OnDoubted:
		evidenceGone()
	case OnConfirmationVoided:
		evidenceGone()
		if r.From == CloseUp {
			unproved()
		}
	case OnTesterFailed, OnLowVoltsFound, OnProofOld, OnNeutralShared, OnCoversOn, OnLockOff:
		unproved()
	case OnReadingJumps:
		unproved()
		h.readings = 0
	case OnAway, OnPersonChanged, OnReopened:
		unproved()
		h.readings, h.live = 0, false
	case OnSiteDecides, OnSiteDecidesAdvice, OnStepHeld, OnHeld:
		unproved() // from here on it may be live
		h.live = true
	case OnNotNow:
		h.live = false
	case OnTripped, OnWorksNot, OnWasSwitchedOn, OnSpark, OnLiveFound, OnNeutralLive, OnTingle:
		unproved()
		evidenceGone()
		h.live = false
	case OnStop:
		unproved()
		evidenceGone()
		h.stopped, h.first = true, false
	case OnStopGrave:
		unproved()
		evidenceGone()
		h.grave, h.stopped, h.first = true, true, false
	case OnFalseAlarm1:
		h.first = true
	case OnNotSure:
		h.first = false
	case OnFalseAlarm2:
		h.stopped = h.stopped && !h.first
		h.first = false
	case OnSeniorClears:
		h.stopped, h.grave, h.first = false, false, false
	}
	// Where a phase begins anew, the watcher forgets what belonged to the one before:
	// a watcher that knows less lets the facts claim less.
	if r.From != r.To {
		switch r.To {
		case Intake, LookOnly, LeaveSafe:
			evidenceGone()
		case Isolate, Confirm:
			evidenceGone()
		case Verdict, Repair:
			h.mended, h.readings = false, 0
		case Land:
			h.readings = 0
		}
		switch r.To {
		case Intake, LookOnly, MakeSafe, Prove:
			unproved()
		}
		switch r.To {
		case CloseUp, SwitchOn, Verify, AskDanger, Paused, Done, HandedOver:
		default:
			h.live = false
		}
	}
	return h
}

// claims lists what facts say that history does not give.
func (h history) claims(f safety.Facts) error {
	says := func(fact safety.Facts, so bool) error {
		if f.Has(fact) && !so {
			return fmt.Errorf("%s is taken as known and is not", fact)
		}
		return nil
	}
	return errors.Join(
		says(safety.KnownBefore, h.proof >= 1), says(safety.PairsDead, h.proof >= 2),
		says(safety.KnownAfter, h.proof >= 3), says(safety.Guarded, h.proof >= 4),
		says(safety.HereDead, h.here), says(safety.NeutralDead, h.neutral),
		says(safety.CauseProved, h.cause), says(safety.Mended, h.mended),
		says(safety.FrameBonded, h.readings.Has(safety.FrameBonded)), says(safety.LegsSound, h.readings.Has(safety.LegsSound)),
		says(safety.LegsClear, h.readings.Has(safety.LegsClear)), says(safety.Insulated, h.readings.Has(safety.Insulated)),
		says(safety.Held, h.live))
}

// proveOne checks one pair of the walk.
func proveOne(m *machine.Machine, asks func(machine.State) []safety.Ask, p machine.Place[history]) error {
	// The facts of making safe are set in order, so they are always the first n.
	gap := safety.Facts(0)
	for _, f := range order {
		if !p.Facts.Has(f) {
			gap = f
		} else if gap != 0 {
			return fmt.Errorf("%s without %s before it", f, gap)
		}
	}
	if err := p.Watch.claims(p.Facts); err != nil {
		return err
	}
	if lack := entering(p.At) &^ p.Facts; lack != 0 {
		return fmt.Errorf("in this state without %s", lack)
	}
	for _, r := range m.Rules(p.At) {
		if r.Lack(p.Facts) != 0 {
			continue
		}
		if lack := demanded(r) &^ p.Facts; lack != 0 {
			return fmt.Errorf("%s is let by without %s", r.On, lack)
		}
		if r.On == OnNeutralLifted && !p.Watch.neutral {
			return errors.New("a neutral is lifted that was not found dead")
		}
	}
	if inUnit(p.At) {
		if !p.Facts.Has(safety.ProvedDead) || p.Watch.proof != 4 {
			return errors.New("hands are in a unit that is not proved dead")
		}
		if p.At != OpenHere && p.At != ProveHere && (!p.Facts.Has(safety.HereDead) || !p.Watch.here) {
			return errors.New("hands are in a compartment that is not proved dead")
		}
	}
	switch p.At {
	case SwitchOn:
		if !p.Facts.Has(safety.MaySwitchOn) || !p.Watch.cause || !p.Watch.mended || p.Watch.readings != fourRead {
			return errors.New("switching on without fresh evidence")
		}
	case MakeSafe:
		if p.Watch.stopped || p.Watch.grave {
			return errors.New("a stop was left that nobody cleared")
		}
	case Done:
		if p.Facts&safety.Held == 0 && !p.Facts.Has(safety.EndsSafe|safety.SiteLocked) {
			return errors.New("closed, neither proved to work nor left safe")
		}
	}
	if p.Watch.stopped && p.At != Stopped && p.At != FalseAlarm && p.At != StoppedGrave && p.At != HandedOver {
		return errors.New("at work after a stop that nobody cleared")
	}
	if p.Watch.grave && p.At != StoppedGrave && p.At != HandedOver {
		return errors.New("a shock was left without a senior")
	}
	for _, a := range asks(p.At) {
		if lack := demandedOf(a, p.At) &^ p.Facts; a.Needs&^p.Facts == 0 && lack != 0 {
			return fmt.Errorf("%s may be put without %s", a.Code, lack)
		}
	}
	return nil
}

// prove runs the whole proof and returns how many pairs it walked.
func prove(m *machine.Machine, asks func(machine.State) []safety.Ask) (int, error) {
	for _, r := range m.All() {
		if err := audit(r); err != nil {
			return 0, err
		}
	}
	for _, s := range m.States() {
		for _, a := range asks(s) {
			if err := auditAsk(a, s); err != nil {
				return 0, err
			}
		}
	}
	return walkOnly(m, asks)
}

func walkOnly(m *machine.Machine, asks func(machine.State) []safety.Ask) (int, error) {
	return machine.Watch(m, []machine.Pair{{At: Intake}}, history{}, history.after,
		func(p machine.Place[history]) error { return proveOne(m, asks, p) })
}

func theTable(t testing.TB) *machine.Machine {
	t.Helper()
	m, err := Table()
	require.NoError(t, err)
	return m
}

func TestEveryPairIsSafe(t *testing.T) {
	m := theTable(t)
	placed, err := prove(m, PromptsOf)
	require.NoError(t, err)
	pairs, err := m.Walk(Intake, 0, func(machine.Place[struct{}]) error { return nil })
	require.NoError(t, err)
	t.Logf("%d states, %d edges, %d (state, facts) pairs, %d with their histories",
		len(m.States()), len(m.All()), pairs, placed)
	require.Greater(t, pairs, len(m.States()), "the walk went nowhere")
}

// From every pair the job can still be brought to its end, done, unless somebody else
// leads it already.
func TestAnEndIsAlwaysInReach(t *testing.T) {
	m := theTable(t)
	var pairs []machine.Pair
	into := make(map[machine.Pair][]machine.Pair)
	_, err := m.Walk(Intake, 0, func(p machine.Place[struct{}]) error {
		pairs = append(pairs, p.Pair)
		for _, r := range m.Rules(p.At) {
			if r.Lack(p.Facts) == 0 {
				to := machine.Pair{At: r.To, Facts: r.After(p.Facts)}
				into[to] = append(into[to], p.Pair)
			}
		}
		return nil
	})
	require.NoError(t, err)
	ends := make(map[machine.Pair]bool)
	var queue []machine.Pair
	for _, p := range pairs {
		if p.At == Done {
			ends[p] = true
			queue = append(queue, p)
		}
	}
	require.NotEmpty(t, queue, "no job is ever done")
	for len(queue) > 0 {
		for _, p := range into[queue[0]] {
			if !ends[p] {
				ends[p] = true
				queue = append(queue, p)
			}
		}
		queue = queue[1:]
	}
	for _, p := range pairs {
		if p.At != HandedOver && !ends[p] {
			t.Errorf("%s with %s: no way to an end", p.At, p.Facts)
		}
	}
}

// Backing off is never refused: stop, pause, hand over and reports of what happened
// need nothing, in any state that is not an end.
func TestBackingOffIsNeverRefused(t *testing.T) {
	m := theTable(t)
	at := map[machine.Event]machine.State{OnStopGrave: StoppedGrave}
	for _, s := range m.States() {
		if m.Final(s) {
			continue
		}
		at[OnStop] = Stopped
		if s == StoppedGrave {
			at[OnStop] = StoppedGrave // a plain stop does not make it less grave
		}
		for on, want := range at {
			r, ok := m.Rule(s, on)
			require.True(t, ok, "%s in %s", on, s)
			require.Equal(t, want, r.To, "%s in %s", on, s)
			require.Zero(t, r.Needs, "%s in %s", on, s)
		}
		for _, on := range []machine.Event{OnWasSwitchedOn, OnAway, OnPersonChanged, OnSpark, OnTingle} {
			r, ok := m.Rule(s, on)
			require.True(t, ok, "%s in %s", on, s)
			require.Zero(t, r.Needs, "%s in %s", on, s)
			require.Zero(t, r.Sets, "%s in %s", on, s)
			require.True(t, r.Drops.Has(safety.Dead|fourRead), "%s in %s keeps the proof or a reading", on, s)
		}
		if s == Stopped || s == FalseAlarm || s == StoppedGrave {
			continue
		}
		for _, on := range []machine.Event{OnDangerMaybe, OnPause, OnHandOver} {
			r, ok := m.Rule(s, on)
			require.True(t, ok, "%s in %s", on, s)
			require.Zero(t, r.Needs, "%s in %s", on, s)
		}
		if inUnit(s) {
			for _, on := range []machine.Event{OnLiveFound, OnProofOld, OnReadingJumps} {
				r, ok := m.Rule(s, on)
				require.True(t, ok, "%s in %s", on, s)
				require.Zero(t, r.Needs, "%s in %s", on, s)
			}
		}
	}
}

// A stop is left by a person's decision only, a grave one by a senior's only, and
// nothing that was known before is known after.
func TestWhoLeavesAStop(t *testing.T) {
	m := theTable(t)
	leaves := map[machine.State]map[machine.Event]bool{
		Stopped:      {OnSeniorClears: true, OnEndStopped: true},
		FalseAlarm:   {OnFalseAlarm2: true, OnSeniorClears: true, OnEndStopped: true},
		StoppedGrave: {OnSeniorClears: true, OnEndStopped: true},
	}
	for s, allowed := range leaves {
		left := 0
		for _, r := range m.Rules(s) {
			if _, stays := leaves[r.To]; stays && r.To != StoppedGrave && s == StoppedGrave {
				t.Errorf("%s makes a grave stop a plain one", r.On)
			} else if stays {
				continue
			}
			left++
			if !allowed[r.On] {
				t.Errorf("%s leaves %s to %s", r.On, s, r.To)
			}
			if r.To != HandedOver && !r.Drops.Has(safety.All) {
				t.Errorf("%s leaves %s and keeps facts", r.On, s)
			}
		}
		require.Equal(t, len(allowed), left)
	}
}

// After a trip no switch-on can be reached without a cause proved afresh.
func TestNoSecondTryOnTheSameEvidence(t *testing.T) {
	m := theTable(t)
	var tripped []machine.Pair
	_, err := m.Walk(Intake, 0, func(p machine.Place[struct{}]) error {
		for _, on := range []machine.Event{OnTripped, OnWasSwitchedOn} {
			if r, ok := m.Rule(p.At, on); ok && r.Lack(p.Facts) == 0 {
				tripped = append(tripped, machine.Pair{At: r.To, Facts: r.After(p.Facts)})
			}
		}
		return nil
	})
	require.NoError(t, err)
	require.NotEmpty(t, tripped)
	reached := 0
	_, err = machine.Watch(m, tripped, false,
		func(fresh bool, r machine.Rule) bool { return fresh || r.On == OnProvedCause },
		func(p machine.Place[bool]) error {
			if p.At == SwitchOn {
				reached++
				if !p.Watch {
					return errors.New("a second try on the same evidence")
				}
			}
			return nil
		})
	require.NoError(t, err)
	require.Positive(t, reached, "after a trip the unit can never be switched on again")
}

// with returns the table with one rule replaced.
func with(t testing.TB, m *machine.Machine, n int, r machine.Rule) *machine.Machine {
	t.Helper()
	rules := m.All()
	rules[n] = r
	changed, err := machine.New(m.Start(), []machine.State{Done, HandedOver}, rules)
	require.NoError(t, err)
	return changed
}

// Every single needed fact of every edge is needed: without it the proof fails.
func TestEachNeedIsNeeded(t *testing.T) {
	m := theTable(t)
	_, err := prove(m, PromptsOf)
	require.NoError(t, err, "a proof that fails anyway shows nothing")
	tried := 0
	for n, r := range m.All() {
		for _, f := range r.Needs.List() {
			tried++
			changed := r
			changed.Needs &^= f
			if audit(changed) != nil {
				continue // part of the proof
			}
			if _, err := prove(with(t, m, n, changed), PromptsOf); err == nil {
				t.Errorf("%s from %s: needs %s in vain", r.On, r.From, f)
			}
		}
	}
	require.Greater(t, tried, 500)
	t.Logf("%d needs of edges deleted one by one", tried)
}

// Every single needed fact of every question is needed.
func TestEachNeedOfAQuestionIsNeeded(t *testing.T) {
	m := theTable(t)
	_, err := prove(m, PromptsOf)
	require.NoError(t, err, "a proof that fails anyway shows nothing")
	tried := 0
	for _, s := range m.States() {
		for n, a := range PromptsOf(s) {
			for _, f := range a.Needs.List() {
				tried++
				asks := func(at machine.State) []safety.Ask {
					list := PromptsOf(at)
					if at == s {
						list[n].Needs &^= f
					}
					return list
				}
				if _, err := prove(m, asks); err == nil {
					t.Errorf("%s in %s: needs %s in vain", a.Code, s, f)
				}
			}
		}
	}
	require.Greater(t, tried, 200)
	t.Logf("%d needs of questions deleted one by one", tried)
}

// Every dropped fact that an edge can find, and that means something where the edge
// leads, is dropped for a reason: kept, the proof fails.
func TestEachDropIsNeeded(t *testing.T) {
	m := theTable(t)
	_, err := prove(m, PromptsOf)
	require.NoError(t, err, "a proof that fails anyway shows nothing")
	held := make(map[machine.State]safety.Facts)
	_, err = m.Walk(Intake, 0, func(p machine.Place[struct{}]) error {
		held[p.At] |= p.Facts
		return nil
	})
	require.NoError(t, err)
	means := make(map[machine.State]safety.Facts)
	for _, g := range gates() {
		means[g.at] = g.keeps
	}
	tried := 0
	for n, r := range m.All() {
		for _, f := range (r.Drops & held[r.From] & means[r.To] &^ r.Sets).List() {
			tried++
			changed := r
			changed.Drops &^= f
			if audit(changed) != nil {
				continue // part of the proof
			}
			if _, err := walkOnly(with(t, m, n, changed), PromptsOf); err == nil {
				t.Errorf("%s from %s to %s: drops %s in vain", r.On, r.From, r.To, f)
			}
		}
	}
	require.Greater(t, tried, 300)
	t.Logf("%d drops of edges deleted one by one", tried)
}

// The proof finds what is planted: an ungated question, an ungated edge, an edge that
// skips a step, a stop that cannot be had.
func TestTheProofFindsWhatIsPlanted(t *testing.T) {
	m := theTable(t)
	ungated := func(s machine.State) []safety.Ask {
		list := PromptsOf(s)
		if s == MakeSafe {
			list = append(list, safety.Ask{Code: "ask_reading", Touch: safety.Inside})
		}
		return list
	}
	_, err := walkOnly(m, ungated)
	require.ErrorContains(t, err, "ask_reading may be put without")

	plant := func(r machine.Rule) error {
		planted, err := machine.New(m.Start(), []machine.State{Done, HandedOver}, append(m.All(), r))
		require.NoError(t, err)
		_, err = walkOnly(planted, PromptsOf)
		return err
	}
	require.ErrorContains(t, plant(machine.Rule{From: MakeSafe, On: "planted", To: Isolate}), "planted is let by without")
	require.ErrorContains(t, plant(machine.Rule{From: MakeSafe, On: "planted", To: MakeSafe, Sets: safety.Locked}), "planted is let by without")
	require.ErrorContains(t, plant(machine.Rule{From: Isolate, On: "planted", To: Isolate, Drops: safety.Locked}), "without locked")
	require.ErrorContains(t, plant(machine.Rule{From: Verify, On: "planted", To: SwitchOn}), "planted is let by without")
	require.ErrorContains(t, plant(machine.Rule{From: StoppedGrave, On: "planted", To: MakeSafe}), "nobody cleared")
	require.ErrorContains(t, plant(machine.Rule{From: Paused, On: "planted", To: Done}), "neither proved")
}
