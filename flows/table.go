package flows

import (
	"errors"
	"fmt"
	"sync"

	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
)

// What is dropped together.
const (
	// dropWork is what no longer holds once the unit was out of hand: the dead unit
	// and its proof, the readings of the permit, everything reported since.
	dropWork = safety.UnitOff | safety.Dead | safety.Readings | safety.AllLanded |
		safety.Closing | safety.Held | safety.Leaving
	// dropLive is what no longer holds once anything was energised: the evidence too,
	// since a trip may have used it up (29 CFR 1910.334(b)(2)).
	dropLive = dropWork | safety.CauseProved | safety.Mended
	// dropSources is what no longer holds once a source turned up that nobody listed.
	dropSources = dropLive | safety.SourcesRead | safety.KitchenTold
	// dropPerson is what no longer holds for another pair of hands.
	dropPerson = dropWork | safety.Qualified | safety.KitReady | safety.SourcesRead | safety.KitchenTold
)

// What is needed together.
const (
	needCause  = safety.AtWork | safety.CauseProved
	needMended = needCause | safety.Mended
	needClose  = safety.Permit | safety.AllLanded
	needLeave  = safety.EndsSafe | safety.ToolsOff | safety.CoversOn | safety.SiteLocked
)

// gate is what entering a state takes, however it is entered: the facts without which
// no edge leads into it, and the facts that mean anything there. Every other fact is
// dropped on the way in.
type gate struct {
	at    machine.State
	needs safety.Facts
	keeps safety.Facts
}

// gates returns the gate of every state. States in which nobody works inside the unit
// need nothing, so that backing off is never refused.
func gates() []gate {
	const (
		cause  = safety.CauseProved
		mended = safety.CauseProved | safety.Mended
		inside = safety.AtWork | safety.NeutralDead
		closed = safety.ProvedDead | safety.NeutralDead | safety.HereDead | needClose
	)
	return []gate{
		{Intake, 0, 0},
		{MakeSafe, 0, safety.ToCover | mended},
		{LookOnly, 0, safety.NobodyHurt},
		{Prove, 0, safety.ToCover | mended | safety.Readings}, // proved from the beginning, and as one
		{Isolate, safety.AtWork, inside},
		{CheckNeutral, safety.AtWork, safety.AtWork | mended | safety.Readings},
		{OpenHere, safety.ProvedDead, safety.ProvedDead | safety.NeutralDead | mended | safety.Readings},
		{ProveHere, safety.ProvedDead, safety.ProvedDead | safety.NeutralDead | mended | safety.Readings},
		{Confirm, safety.AtWork, inside},
		{Verdict, needCause, inside | cause},
		{Repair, needCause, inside | cause},
		{Land, needMended, inside | mended},
		{Permit, needMended, inside | mended | safety.Readings},
		{CloseUp, needClose, closed | safety.Closing&^safety.SiteDecides},
		{SwitchOn, safety.MaySwitchOn, closed | safety.Closing},
		{Verify, safety.Held, safety.MaySwitchOn&^safety.SiteDecides | safety.KitchenTold | safety.Held},
		{LeaveSafe, 0, safety.ToCover | safety.Proof | needLeave},
		{AskDanger, 0, safety.All},
		{Paused, 0, safety.All},
		{Stopped, 0, 0},
		{FalseAlarm, 0, 0},
		{StoppedGrave, 0, 0},
		{Done, 0, safety.All},
		{HandedOver, 0, safety.All},
	}
}

// gated adds to every edge that changes the state what the gate of its goal takes.
func gated(rules []machine.Rule) []machine.Rule {
	for _, g := range gates() {
		for i := range rules {
			if r := &rules[i]; r.To == g.at && r.From != g.at {
				r.Needs |= g.needs &^ r.Sets
				r.Drops |= safety.All &^ g.keeps
			}
		}
	}
	return rules
}

// tick is one line of the make-safe card or of the proof, in the order of safety.Facts.
type tick struct {
	on  machine.Event
	set safety.Facts
}

// card returns the ticks up to the cover, proof the typed values after it.
func card() []tick {
	return []tick{
		{OnTickNobodyHurt, safety.NobodyHurt}, {OnLevelOK, safety.Qualified}, {OnTickKit, safety.KitReady},
		{OnTickSources, safety.SourcesRead}, {OnTickKitchen, safety.KitchenTold},
		{OnTickUnitOff, safety.UnitOff}, {OnTickIsolated, safety.Isolated}, {OnTickLocked, safety.Locked},
		{OnTickReleased, safety.Released}, {OnTickTried, safety.TriedStart}, {OnTickCover, safety.CoverOpened},
	}
}

func proof() []tick {
	return []tick{
		{OnKnownBefore, safety.KnownBefore}, {OnPairsDead, safety.PairsDead},
		{OnKnownAfter, safety.KnownAfter}, {OnGuarded, safety.Guarded},
	}
}

// phaseRules returns the rules of the phases, without the interrupts. They are the same for
// every complaint that is worked on: what a unit does wrong changes no gate.
func phaseRules() []machine.Rule {
	var rules []machine.Rule
	from := func(at machine.State, list ...machine.Rule) {
		for _, r := range list {
			r.From = at
			if r.To == "" {
				r.To = at
			}
			rules = append(rules, r)
		}
	}

	from(Intake, machine.Rule{On: OnUnitKnown, To: MakeSafe})

	// Each tick needs every one before it, so that none can be passed over.
	var before safety.Facts
	for _, t := range card() {
		r := machine.Rule{On: t.on, Needs: before, Sets: t.set}
		if t.on == OnTickCover {
			r.To = Prove
		}
		from(MakeSafe, r)
		before |= t.set
	}
	from(MakeSafe,
		machine.Rule{On: OnLevelLow, To: LookOnly},
		machine.Rule{On: OnLeave, To: LeaveSafe})
	from(LookOnly,
		machine.Rule{On: OnLooked},
		machine.Rule{On: OnLevelOK, To: MakeSafe},
		machine.Rule{On: OnLeave, To: LeaveSafe})

	for _, t := range proof() {
		from(Prove, machine.Rule{On: t.on, Needs: before, Sets: t.set})
		before |= t.set
	}
	from(Prove,
		machine.Rule{On: OnProved, To: Isolate, Sets: safety.HereDead},
		machine.Rule{On: OnProvedRepair, To: Repair, Sets: safety.HereDead},
		machine.Rule{On: OnProvedLand, To: Land, Sets: safety.HereDead},
		machine.Rule{On: OnProvedPermit, To: Permit, Sets: safety.HereDead},
		machine.Rule{On: OnTesterFailed, Drops: safety.Proof},
		machine.Rule{On: OnLowVoltsFound, Drops: safety.Proof},
		machine.Rule{On: OnProofOld, Drops: safety.Proof},
		machine.Rule{On: OnLiveFound, To: MakeSafe, Drops: dropSources},
		machine.Rule{On: OnMakeSafeFirst, To: MakeSafe},
		machine.Rule{On: OnLeave, To: LeaveSafe})

	// Readings.
	from(Isolate,
		machine.Rule{On: OnReading}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt},
		machine.Rule{On: OnUndo}, machine.Rule{On: OnAct},
		machine.Rule{On: OnNothingLeft},
		machine.Rule{On: OnSuspect, To: Confirm})
	from(Confirm,
		machine.Rule{On: OnReading}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt},
		machine.Rule{On: OnUndo}, machine.Rule{On: OnAct},
		machine.Rule{On: OnProvedCause, To: Verdict, Needs: safety.AtWork, Sets: safety.CauseProved},
		machine.Rule{On: OnNotConfirmed, To: Isolate})
	from(CheckNeutral,
		machine.Rule{On: OnDoubt},
		machine.Rule{On: OnNeutralDead, To: Isolate, Sets: safety.NeutralDead},
		machine.Rule{On: OnNeutralConfirm, To: Confirm, Sets: safety.NeutralDead},
		machine.Rule{On: OnNeutralPermit, To: Permit, Sets: safety.NeutralDead},
		machine.Rule{On: OnNeutralKept, To: Isolate},
		machine.Rule{On: OnNeutralKeptConfirm, To: Confirm},
		machine.Rule{On: OnNeutralKeptPermit, To: Permit},
		machine.Rule{On: OnNeutralLive, To: MakeSafe, Drops: dropSources},
		machine.Rule{On: OnNeutralShared, To: MakeSafe, Drops: dropWork &^ safety.UnitOff})
	from(OpenHere,
		machine.Rule{On: OnDoubt},
		machine.Rule{On: OnOpenedHere, To: ProveHere},
		machine.Rule{On: OnCoverKept, To: Isolate, Sets: safety.HereDead},
		machine.Rule{On: OnCoverKeptConfirm, To: Confirm, Sets: safety.HereDead},
		machine.Rule{On: OnCoverKeptRepair, To: Repair, Sets: safety.HereDead},
		machine.Rule{On: OnCoverKeptLand, To: Land, Sets: safety.HereDead},
		machine.Rule{On: OnCoverKeptPermit, To: Permit, Sets: safety.HereDead})
	from(ProveHere,
		machine.Rule{On: OnDoubt},
		machine.Rule{On: OnHereDead, To: Isolate, Sets: safety.HereDead},
		machine.Rule{On: OnHereConfirm, To: Confirm, Sets: safety.HereDead},
		machine.Rule{On: OnHereRepair, To: Repair, Sets: safety.HereDead},
		machine.Rule{On: OnHereLand, To: Land, Sets: safety.HereDead},
		machine.Rule{On: OnHerePermit, To: Permit, Sets: safety.HereDead})

	// From the verdict to the last reading.
	from(Verdict,
		machine.Rule{On: OnAgreed, To: Repair},
		machine.Rule{On: OnDoubted, To: Isolate})
	from(Repair,
		machine.Rule{On: OnAct}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt},
		machine.Rule{On: OnMended, To: Land, Sets: safety.Mended},
		machine.Rule{On: OnNoPart, To: LeaveSafe})
	from(Land,
		machine.Rule{On: OnLanded}, machine.Rule{On: OnAct}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt},
		machine.Rule{On: OnLandedBarNeutral, To: Permit})
	from(Permit,
		machine.Rule{On: OnReading}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt}, machine.Rule{On: OnAct},
		machine.Rule{On: OnFrameBonded, Needs: needMended, Sets: safety.FrameBonded},
		machine.Rule{On: OnLegsSound, Needs: needMended, Sets: safety.LegsSound},
		machine.Rule{On: OnLegsClear, Needs: needMended, Sets: safety.LegsClear},
		machine.Rule{On: OnInsulated, Needs: needMended, Sets: safety.Insulated},
		machine.Rule{On: OnInsulationNotDue, Needs: needMended, Sets: safety.Insulated},
		machine.Rule{On: OnPermitVoided, Drops: safety.Readings},
		machine.Rule{On: OnPermitFailed, To: Isolate},
		machine.Rule{On: OnAllLanded, To: CloseUp, Needs: safety.AtWork, Sets: safety.AllLanded})

	// Close up, in the order of 29 CFR 1910.333(b)(2)(v): tools, jumpers, shorts and
	// grounds off; people warned and clear; lock removed by its owner; visual check.
	from(CloseUp,
		machine.Rule{On: OnToolsOff, Needs: needClose, Sets: safety.ToolsOff},
		machine.Rule{On: OnCoversOn, Needs: needClose | safety.ToolsOff, Sets: safety.CoversOn,
			Drops: safety.CoverOpened | safety.Proof},
		machine.Rule{On: OnPeopleClear, Needs: needClose | safety.ToolsOff | safety.CoversOn, Sets: safety.PeopleClear},
		machine.Rule{On: OnLockOff, Needs: needClose | safety.ToolsOff | safety.CoversOn | safety.PeopleClear,
			Sets: safety.LockOff, Drops: safety.Dead},
		machine.Rule{On: OnLooksRight, Needs: needClose | safety.ToolsOff | safety.CoversOn | safety.PeopleClear | safety.LockOff,
			Sets: safety.LooksRight},
		machine.Rule{On: OnSeniorAgrees, Needs: needClose | safety.ToolsOff | safety.CoversOn | safety.PeopleClear | safety.LockOff | safety.LooksRight,
			Sets: safety.SeniorAgrees},
		machine.Rule{On: OnSiteDecides, To: SwitchOn, Sets: safety.SiteDecides},
		machine.Rule{On: OnSiteDecidesAdvice, To: SwitchOn, Needs: safety.SeniorAgrees, Sets: safety.SiteDecides},
		machine.Rule{On: OnReopened, To: MakeSafe, Drops: dropWork},
		machine.Rule{On: OnConfirmationVoided, To: MakeSafe, Drops: dropLive &^ safety.UnitOff})
	from(SwitchOn,
		machine.Rule{On: OnStepHeld},
		machine.Rule{On: OnHeld, To: Verify, Needs: safety.MaySwitchOn, Sets: safety.Held,
			Drops: safety.UnitOff | safety.Dead},
		machine.Rule{On: OnTripped, To: MakeSafe, Drops: dropLive},
		machine.Rule{On: OnNotNow, To: CloseUp, Drops: safety.Dead | safety.PeopleClear | safety.LooksRight | safety.SeniorAgrees})
	from(Verify,
		machine.Rule{On: OnWorks, To: Done, Needs: safety.Held | safety.AllLanded | safety.CoversOn},
		machine.Rule{On: OnWorksNot, To: MakeSafe, Drops: dropLive},
		machine.Rule{On: OnTripped, To: MakeSafe, Drops: dropLive})

	from(LeaveSafe,
		machine.Rule{On: OnMakeSafeFirst, To: MakeSafe},
		machine.Rule{On: OnAct}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt},
		machine.Rule{On: OnEndsSafe, Needs: safety.AtWork, Sets: safety.EndsSafe},
		machine.Rule{On: OnNothingOff, Sets: safety.EndsSafe},
		machine.Rule{On: OnToolsOff, Needs: safety.EndsSafe, Sets: safety.ToolsOff},
		machine.Rule{On: OnCoversOn, Needs: safety.EndsSafe | safety.ToolsOff | safety.Isolated | safety.Locked,
			Sets: safety.CoversOn, Drops: safety.CoverOpened | safety.Proof},
		machine.Rule{On: OnSiteLocked, Needs: needLeave&^safety.SiteLocked | safety.Isolated | safety.Locked, Sets: safety.SiteLocked},
		machine.Rule{On: OnLeftSafe, To: Done, Needs: needLeave})

	// What several states at work have in common.
	for _, at := range []machine.State{Isolate, CheckNeutral, OpenHere, ProveHere, Confirm, Verdict, Repair, Land, Permit} {
		from(at,
			machine.Rule{On: OnLiveFound, To: MakeSafe, Drops: dropSources},
			machine.Rule{On: OnReadingJumps, To: Prove, Drops: safety.Proof | safety.Readings | safety.AllLanded},
			machine.Rule{On: OnProofOld, To: Prove, Drops: safety.Proof})
	}
	for _, at := range []machine.State{CloseUp, LeaveSafe} {
		from(at, machine.Rule{On: OnProofOld, Drops: safety.Proof})
	}
	for _, at := range []machine.State{Isolate, Confirm, Repair, Land, Permit} {
		from(at, machine.Rule{On: OnCoverWanted, To: OpenHere})
	}
	for _, at := range []machine.State{Isolate, Confirm, Permit} {
		from(at,
			machine.Rule{On: OnNeutralWanted, To: CheckNeutral},
			machine.Rule{On: OnNeutralLifted, Needs: safety.AtWork | safety.NeutralDead})
	}
	for _, at := range []machine.State{Verdict, Repair, Land, Permit} {
		from(at, machine.Rule{On: OnConfirmationVoided, To: Isolate})
	}
	for _, at := range []machine.State{Isolate, Confirm, Verdict, Land, Permit, CloseUp} {
		from(at, machine.Rule{On: OnLeave, To: LeaveSafe})
	}
	return rules
}

// interrupts returns what may come in every state that is not an end.
func interrupts() []machine.Rule {
	var rules []machine.Rule
	add := func(r machine.Rule) { rules = append(rules, r) }

	working := []machine.State{Intake, MakeSafe, LookOnly, Prove, Isolate, CheckNeutral, OpenHere, ProveHere,
		Confirm, Verdict, Repair, Land, Permit, CloseUp, SwitchOn, Verify, LeaveSafe}
	waiting := []machine.State{AskDanger, Paused}
	stopped := []machine.State{Stopped, FalseAlarm, StoppedGrave}

	// What happened to the unit or to the person drops what it made untrue.
	happened := []struct {
		on    machine.Event
		drops safety.Facts
	}{
		{OnWasSwitchedOn, dropLive},
		{OnAway, dropWork},
		{OnPersonChanged, dropPerson},
		{OnSpark, dropLive},
		{OnTingle, safety.All},
	}
	for _, at := range working {
		to := MakeSafe
		if at == Intake || at == LookOnly {
			to = at // nothing was made safe yet
		}
		for _, h := range happened {
			add(machine.Rule{From: at, On: h.on, To: to, Drops: h.drops})
		}
	}
	for _, at := range append(waiting, stopped...) {
		for _, h := range happened {
			add(machine.Rule{From: at, On: h.on, To: at, Drops: h.drops})
		}
	}

	// A switch-on that is broken off is not taken up again where it was.
	broken := func(at machine.State) safety.Facts {
		switch at {
		case SwitchOn:
			return safety.UnitOff | safety.Dead | safety.PeopleClear | safety.LooksRight | safety.SiteDecides | safety.SeniorAgrees
		}
		return 0
	}
	for _, at := range working {
		add(machine.Rule{From: at, On: OnStop, To: Stopped, Drops: safety.All})
		add(machine.Rule{From: at, On: OnStopGrave, To: StoppedGrave, Drops: safety.All})
		add(machine.Rule{From: at, On: OnDangerMaybe, To: AskDanger, Drops: broken(at)})
		add(machine.Rule{From: at, On: OnPause, To: Paused, Drops: broken(at)})
		add(machine.Rule{From: at, On: OnHandOver, To: HandedOver})
	}
	for _, at := range waiting {
		add(machine.Rule{From: at, On: OnStop, To: Stopped, Drops: safety.All})
		add(machine.Rule{From: at, On: OnStopGrave, To: StoppedGrave, Drops: safety.All})
		add(machine.Rule{From: at, On: OnDangerMaybe, To: AskDanger})
		add(machine.Rule{From: at, On: OnPause, To: Paused})
		add(machine.Rule{From: at, On: OnHandOver, To: HandedOver})
		add(machine.Rule{From: at, On: OnProofOld, To: at, Drops: safety.Proof})
		for _, to := range working {
			if Back(to) == "back_"+machine.Event(to) {
				add(machine.Rule{From: at, On: Back(to), To: to})
			}
		}
	}

	// A stop is left by a person's decision only, with nothing taken as known.
	add(machine.Rule{From: Stopped, On: OnFalseAlarm1, To: FalseAlarm})
	add(machine.Rule{From: FalseAlarm, On: OnFalseAlarm2, To: MakeSafe, Drops: safety.All})
	add(machine.Rule{From: FalseAlarm, On: OnNotSure, To: Stopped})
	for _, at := range stopped {
		if at != StoppedGrave {
			add(machine.Rule{From: at, On: OnStop, To: Stopped, Drops: safety.All})
		} else {
			add(machine.Rule{From: at, On: OnStop, To: at})
		}
		add(machine.Rule{From: at, On: OnStopGrave, To: StoppedGrave, Drops: safety.All})
		add(machine.Rule{From: at, On: OnSeniorClears, To: MakeSafe, Drops: safety.All})
		add(machine.Rule{From: at, On: OnEndStopped, To: HandedOver})
	}
	return rules
}

var table = sync.OnceValues(func() (*machine.Machine, error) {
	return machine.New(Intake, []machine.State{Done, HandedOver}, gated(append(phaseRules(), interrupts()...)))
})

// Table returns the table of the dialog. Its error is one of the table itself and is
// the same at every call; a test keeps it nil.
func Table() (*machine.Machine, error) { return table() }

// Fire returns what an event brings. A state or event that the table does not know
// is an *ErrUnexpected; a gate that refuses is an Outcome with Lack.
func Fire(at machine.State, facts safety.Facts, on machine.Event) (machine.Outcome, error) {
	m, err := Table()
	if err != nil {
		return machine.Outcome{}, err
	}
	out, err := m.Step(at, facts, on)
	var noRule *machine.NoRule
	var noState *machine.UnknownState
	if errors.As(err, &noRule) || errors.As(err, &noState) {
		return out, fmt.Errorf("%w: %w", &ErrUnexpected{State: at, Event: on}, err)
	}
	return out, err
}
