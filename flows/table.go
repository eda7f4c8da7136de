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

// tripsAtOnce returns the rules, without the interrupts.
func tripsAtOnce() []machine.Rule {
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
		machine.Rule{On: OnLevelLow, To: LookOnly, Drops: dropPerson},
		machine.Rule{On: OnLeave, To: LeaveSafe, Drops: dropWork &^ safety.UnitOff &^ safety.Dead})
	from(LookOnly,
		machine.Rule{On: OnLooked},
		machine.Rule{On: OnLevelOK, To: MakeSafe},
		machine.Rule{On: OnLeave, To: LeaveSafe})

	for _, t := range proof() {
		from(Prove, machine.Rule{On: t.on, Needs: before, Sets: t.set})
		before |= t.set
	}
	from(Prove,
		machine.Rule{On: OnProved, To: Isolate, Needs: safety.ProvedDead, Sets: safety.HereDead},
		machine.Rule{On: OnProvedRepair, To: Repair, Needs: needCause &^ safety.HereDead, Sets: safety.HereDead},
		machine.Rule{On: OnProvedLand, To: Land, Needs: needMended &^ safety.HereDead, Sets: safety.HereDead},
		machine.Rule{On: OnProvedPermit, To: Permit, Needs: needMended &^ safety.HereDead, Sets: safety.HereDead},
		machine.Rule{On: OnTesterFailed, Drops: safety.Proof},
		machine.Rule{On: OnLowVoltsFound, Drops: safety.Proof},
		machine.Rule{On: OnProofOld, Drops: safety.Proof},
		machine.Rule{On: OnLiveFound, To: MakeSafe, Drops: dropSources},
		machine.Rule{On: OnLeave, To: LeaveSafe, Drops: dropWork &^ safety.UnitOff &^ safety.Dead})

	// Readings.
	from(Isolate,
		machine.Rule{On: OnReading}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt},
		machine.Rule{On: OnUndo}, machine.Rule{On: OnAct},
		machine.Rule{On: OnNothingLeft},
		machine.Rule{On: OnSuspect, To: Confirm, Needs: safety.AtWork})
	from(Confirm,
		machine.Rule{On: OnReading}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt},
		machine.Rule{On: OnUndo}, machine.Rule{On: OnAct},
		machine.Rule{On: OnProvedCause, To: Verdict, Needs: safety.AtWork, Sets: safety.CauseProved},
		machine.Rule{On: OnNotConfirmed, To: Isolate, Needs: safety.AtWork})
	from(CheckNeutral,
		machine.Rule{On: OnDoubt},
		machine.Rule{On: OnNeutralDead, To: Isolate, Needs: safety.AtWork, Sets: safety.NeutralDead},
		machine.Rule{On: OnNeutralConfirm, To: Confirm, Needs: safety.AtWork, Sets: safety.NeutralDead},
		machine.Rule{On: OnNeutralPermit, To: Permit, Needs: needMended, Sets: safety.NeutralDead},
		machine.Rule{On: OnNeutralKept, To: Isolate, Needs: safety.AtWork, Drops: safety.NeutralDead},
		machine.Rule{On: OnNeutralLive, To: MakeSafe, Drops: dropSources},
		machine.Rule{On: OnNeutralShared, To: MakeSafe, Drops: dropWork &^ safety.UnitOff})
	from(OpenHere,
		machine.Rule{On: OnDoubt},
		machine.Rule{On: OnOpenedHere, To: ProveHere, Needs: safety.ProvedDead},
		machine.Rule{On: OnCoverKept, To: Isolate, Needs: safety.ProvedDead, Sets: safety.HereDead})
	from(ProveHere,
		machine.Rule{On: OnDoubt},
		machine.Rule{On: OnHereDead, To: Isolate, Needs: safety.ProvedDead, Sets: safety.HereDead},
		machine.Rule{On: OnHereConfirm, To: Confirm, Needs: safety.ProvedDead, Sets: safety.HereDead},
		machine.Rule{On: OnHereRepair, To: Repair, Needs: needCause &^ safety.HereDead, Sets: safety.HereDead},
		machine.Rule{On: OnHereLand, To: Land, Needs: needMended &^ safety.HereDead, Sets: safety.HereDead},
		machine.Rule{On: OnHerePermit, To: Permit, Needs: needMended &^ safety.HereDead, Sets: safety.HereDead})

	// From the verdict to the last reading.
	from(Verdict,
		machine.Rule{On: OnAgreed, To: Repair, Needs: needCause},
		machine.Rule{On: OnDoubted, To: Isolate, Needs: safety.AtWork, Drops: safety.CauseProved | safety.Mended})
	from(Repair,
		machine.Rule{On: OnAct}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt},
		machine.Rule{On: OnMended, To: Land, Needs: needCause, Sets: safety.Mended, Drops: safety.Readings | safety.AllLanded},
		machine.Rule{On: OnNoPart, To: LeaveSafe, Drops: dropWork &^ safety.UnitOff &^ safety.Dead})
	from(Land,
		machine.Rule{On: OnLanded}, machine.Rule{On: OnAct}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt},
		machine.Rule{On: OnLandedBarNeutral, To: Permit, Needs: needMended})
	from(Permit,
		machine.Rule{On: OnReading}, machine.Rule{On: OnCannot}, machine.Rule{On: OnDoubt}, machine.Rule{On: OnAct},
		machine.Rule{On: OnFrameBonded, Needs: needMended, Sets: safety.FrameBonded},
		machine.Rule{On: OnLegsSound, Needs: needMended, Sets: safety.LegsSound},
		machine.Rule{On: OnLegsClear, Needs: needMended, Sets: safety.LegsClear},
		machine.Rule{On: OnInsulated, Needs: needMended, Sets: safety.Insulated},
		machine.Rule{On: OnInsulationNotDue, Needs: needMended, Sets: safety.Insulated},
		machine.Rule{On: OnPermitVoided, Drops: safety.Readings},
		machine.Rule{On: OnPermitFailed, To: Isolate, Needs: safety.AtWork,
			Drops: safety.CauseProved | safety.Mended | safety.Readings | safety.AllLanded},
		machine.Rule{On: OnAllLanded, To: CloseUp, Needs: needMended | safety.Permit,
			Sets: safety.AllLanded, Drops: safety.Closing | safety.Leaving})

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
		machine.Rule{On: OnSeniorAgrees, Sets: safety.SeniorAgrees},
		machine.Rule{On: OnSiteDecides, To: SwitchOn, Needs: safety.MaySwitchOn &^ safety.SiteDecides, Sets: safety.SiteDecides},
		machine.Rule{On: OnSiteDecidesAdvice, To: SwitchOn,
			Needs: safety.MaySwitchOn&^safety.SiteDecides | safety.SeniorAgrees, Sets: safety.SiteDecides},
		machine.Rule{On: OnReopened, To: MakeSafe, Drops: dropWork},
		machine.Rule{On: OnConfirmationVoided, To: MakeSafe, Drops: dropLive})
	from(SwitchOn,
		machine.Rule{On: OnStepHeld},
		machine.Rule{On: OnHeld, To: Verify, Needs: safety.MaySwitchOn, Sets: safety.Held,
			Drops: safety.UnitOff | safety.Dead | safety.SiteDecides | safety.SeniorAgrees},
		machine.Rule{On: OnTripped, To: MakeSafe, Drops: dropLive},
		machine.Rule{On: OnNotNow, To: CloseUp, Needs: needClose, Drops: safety.Dead | safety.PeopleClear | safety.LooksRight | safety.SiteDecides})
	from(Verify,
		machine.Rule{On: OnWorks, To: Done, Needs: safety.Held | safety.AllLanded | safety.CoversOn},
		machine.Rule{On: OnWorksNot, To: MakeSafe, Drops: dropLive},
		machine.Rule{On: OnTripped, To: MakeSafe, Drops: dropLive})

	from(LeaveSafe,
		machine.Rule{On: OnMakeSafeFirst, To: MakeSafe, Drops: dropWork &^ safety.UnitOff &^ safety.Dead},
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
			machine.Rule{On: OnReadingJumps, To: Prove, Needs: safety.ToCover, Drops: safety.Proof | safety.Readings | safety.AllLanded},
			machine.Rule{On: OnProofOld, To: Prove, Needs: safety.ToCover, Drops: safety.Proof})
	}
	for _, at := range []machine.State{Isolate, Confirm, Repair, Land, Permit} {
		from(at, machine.Rule{On: OnCoverWanted, To: OpenHere, Needs: safety.ProvedDead, Drops: safety.HereDead})
	}
	for _, at := range []machine.State{Isolate, Confirm, Permit} {
		from(at,
			machine.Rule{On: OnNeutralWanted, To: CheckNeutral, Needs: safety.AtWork, Drops: safety.NeutralDead},
			machine.Rule{On: OnNeutralLifted, Needs: safety.AtWork | safety.NeutralDead})
	}
	for _, at := range []machine.State{Verdict, Repair, Land, Permit} {
		from(at, machine.Rule{On: OnConfirmationVoided, To: Isolate, Needs: safety.AtWork,
			Drops: safety.CauseProved | safety.Mended | safety.Readings | safety.AllLanded})
	}
	for _, at := range []machine.State{Isolate, Confirm, Verdict, Land, Permit, CloseUp} {
		from(at, machine.Rule{On: OnLeave, To: LeaveSafe, Drops: dropWork &^ safety.UnitOff &^ safety.Dead})
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
			return safety.UnitOff | safety.Dead | safety.PeopleClear | safety.LooksRight | safety.SiteDecides
		case OpenHere, ProveHere:
			return safety.HereDead
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
	back := []struct {
		to    machine.State
		needs safety.Facts
	}{
		{Intake, 0}, {MakeSafe, 0}, {LookOnly, 0}, {LeaveSafe, 0},
		{Prove, safety.ToCover},
		{Isolate, safety.AtWork}, {CheckNeutral, safety.AtWork}, {Confirm, safety.AtWork},
		{ProveHere, safety.ProvedDead},
		{Verdict, needCause}, {Repair, needCause},
		{Land, needMended}, {Permit, needMended},
		{CloseUp, needClose},
		{Verify, safety.Held},
	}
	for _, at := range waiting {
		add(machine.Rule{From: at, On: OnStop, To: Stopped, Drops: safety.All})
		add(machine.Rule{From: at, On: OnStopGrave, To: StoppedGrave, Drops: safety.All})
		add(machine.Rule{From: at, On: OnDangerMaybe, To: AskDanger})
		add(machine.Rule{From: at, On: OnPause, To: Paused})
		add(machine.Rule{From: at, On: OnHandOver, To: HandedOver})
		add(machine.Rule{From: at, On: OnProofOld, To: at, Drops: safety.Proof})
		for _, b := range back {
			add(machine.Rule{From: at, On: Back(b.to), To: b.to, Needs: b.needs})
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
	return machine.New(Intake, []machine.State{Done, HandedOver}, append(tripsAtOnce(), interrupts()...))
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
