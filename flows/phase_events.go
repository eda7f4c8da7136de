package flows

import "halfsplit/flows/machine"

// The events of the table. The dialog turns what
// a person says into one of them; the choice is in the name.
const (
	OnUnitKnown machine.Event = "unit_known" // unit and complaint are known

	// Make safe: the ticks, in the order in which they count.
	OnTickNobodyHurt machine.Event = "tick_nobody_hurt"
	OnLevelOK        machine.Event = "level_ok"  // by recorded rights: dead or more
	OnLevelLow       machine.Event = "level_low" // by recorded rights: less than dead
	OnTickKit        machine.Event = "tick_kit"
	OnTickSources    machine.Event = "tick_sources"
	OnTickKitchen    machine.Event = "tick_kitchen"
	OnTickUnitOff    machine.Event = "tick_unit_off"
	OnTickIsolated   machine.Event = "tick_isolated"
	OnTickLocked     machine.Event = "tick_locked"
	OnTickReleased   machine.Event = "tick_released"
	OnTickTried      machine.Event = "tick_tried"
	OnTickCover      machine.Event = "tick_cover"
	OnLooked         machine.Event = "looked"

	// Prove dead: typed values.
	OnKnownBefore        machine.Event = "known_before"
	OnPairsDead          machine.Event = "pairs_dead"
	OnKnownAfter         machine.Event = "known_after"
	OnGuarded            machine.Event = "guarded"
	OnProved             machine.Event = "proved"          // on to isolate
	OnProvedRepair       machine.Event = "proved_repair"   // on to repair: the cause is proved already
	OnProvedLand         machine.Event = "proved_land"     // on to land: it is mended already
	OnProvedPermit       machine.Event = "proved_permit"   // on to permit: it is mended and landed already
	OnTesterFailed       machine.Event = "tester_failed"   // no reading on the known source
	OnLowVoltsFound      machine.Event = "low_volts_found" // 3 V to 30 V: low-impedance mode, find it
	OnLiveFound          machine.Event = "live_found"      // 30 V and up: back off
	OnProofOld           machine.Event = "proof_old"       // a pause of more than 30 min
	OnReadingJumps       machine.Event = "reading_jumps"   // jumping or negative ohms: something may be live
	OnCoverWanted        machine.Event = "cover_wanted"    // the next reading is behind another cover
	OnCoverKept          machine.Event = "cover_kept"      // that cover cannot come off, and did not; on to isolate
	OnCoverKeptConfirm   machine.Event = "cover_kept_confirm"
	OnCoverKeptRepair    machine.Event = "cover_kept_repair"
	OnCoverKeptLand      machine.Event = "cover_kept_land"
	OnCoverKeptPermit    machine.Event = "cover_kept_permit"
	OnOpenedHere         machine.Event = "opened_here"     // it is off
	OnHereDead           machine.Event = "here_dead"       // proved there; on to isolate
	OnHereConfirm        machine.Event = "here_confirm"    // proved there; on to confirm
	OnHereRepair         machine.Event = "here_repair"     // proved there; on to repair
	OnHereLand           machine.Event = "here_land"       // proved there; on to land
	OnHerePermit         machine.Event = "here_permit"     // proved there; on to permit
	OnNeutralWanted      machine.Event = "neutral_wanted"  // the neutral is to come off
	OnNeutralDead        machine.Event = "neutral_dead"    // 0 V to ground and 0 A; on to isolate
	OnNeutralConfirm     machine.Event = "neutral_confirm" // the same; on to confirm
	OnNeutralPermit      machine.Event = "neutral_permit"  // the same; on to permit
	OnNeutralLive        machine.Event = "neutral_live"    // volts or current: back off
	OnNeutralShared      machine.Event = "neutral_shared"  // serves other legs: they must be opened too
	OnNeutralKept        machine.Event = "neutral_kept"    // it stays on; on to isolate
	OnNeutralKeptConfirm machine.Event = "neutral_kept_confirm"
	OnNeutralKeptPermit  machine.Event = "neutral_kept_permit"
	OnNeutralLifted      machine.Event = "neutral_lifted"

	// Isolate and confirm.
	OnReading            machine.Event = "reading"
	OnCannot             machine.Event = "cannot"
	OnDoubt              machine.Event = "doubt"
	OnUndo               machine.Event = "undo"
	OnAct                machine.Event = "act" // lifted, landed, moved, as asked or told
	OnSuspect            machine.Event = "suspect"
	OnNothingLeft        machine.Event = "nothing_left" // nothing telling and safe is left to ask
	OnProvedCause        machine.Event = "proved_cause"
	OnNotConfirmed       machine.Event = "not_confirmed"
	OnAgreed             machine.Event = "agreed"  // it explains the complaint
	OnDoubted            machine.Event = "doubted" // it does not
	OnConfirmationVoided machine.Event = "confirmation_voided"

	// Repair, land, permit.
	OnMended            machine.Event = "mended"
	OnNoPart            machine.Event = "no_part"
	OnLanded            machine.Event = "landed"             // one end
	OnLandedBarNeutral  machine.Event = "landed_bar_neutral" // all but the neutral; on to permit
	OnFrameBonded       machine.Event = "frame_bonded"
	OnLegsSound         machine.Event = "legs_sound"
	OnLegsClear         machine.Event = "legs_clear"
	OnInsulated         machine.Event = "insulated"
	OnInsulationNotDue  machine.Event = "insulation_not_due"
	OnPermitFailed      machine.Event = "permit_failed" // a reading is out of limits: another fault
	OnPermitVoided      machine.Event = "permit_voided" // a reading was taken back
	OnAllLanded         machine.Event = "all_landed"    // the neutral too; on to close up
	OnReopened          machine.Event = "reopened"      // something inside was touched again
	OnToolsOff          machine.Event = "tools_off"
	OnCoversOn          machine.Event = "covers_on"
	OnPeopleClear       machine.Event = "people_clear"
	OnLockOff           machine.Event = "lock_off"
	OnLooksRight        machine.Event = "looks_right"
	OnSeniorAgrees      machine.Event = "senior_agrees"
	OnSiteDecides       machine.Event = "site_decides"
	OnSiteDecidesAdvice machine.Event = "site_decides_advised" // where a senior's yes is asked for on top
	OnNotNow            machine.Event = "not_now"              // decided against switching on

	// Switch on and verify.
	OnStepHeld machine.Event = "step_held" // one branch; more to come
	OnHeld     machine.Event = "held"      // all of it
	OnTripped  machine.Event = "tripped"
	OnWorks    machine.Event = "works"
	OnWorksNot machine.Event = "works_not"

	// Leave the unit out of service.
	OnLeave         machine.Event = "leave"
	OnMakeSafeFirst machine.Event = "make_safe_first"
	OnEndsSafe      machine.Event = "ends_safe"   // each lifted end capped, tied back, tagged
	OnNothingOff    machine.Event = "nothing_off" // by the record nothing was lifted or opened
	OnSiteLocked    machine.Event = "site_locked"
	OnLeftSafe      machine.Event = "left_safe"

	// What may come at any time.
	OnWasSwitchedOn machine.Event = "was_switched_on" // unasked
	OnAway          machine.Event = "away"            // out of sight of the lock or plug
	OnPersonChanged machine.Event = "person_changed"
	OnSpark         machine.Event = "spark"
	OnTingle        machine.Event = "tingle"
	OnStop          machine.Event = "stop"       // asked for, or gas, arc, bang, flooding
	OnStopGrave     machine.Event = "stop_grave" // shock, fire or injury
	OnDangerMaybe   machine.Event = "danger_maybe"
	OnPause         machine.Event = "pause"
	OnHandOver      machine.Event = "hand_over"
	OnFalseAlarm1   machine.Event = "false_alarm_1"
	OnFalseAlarm2   machine.Event = "false_alarm_2"
	OnNotSure       machine.Event = "not_sure" // not a false alarm after all
	OnSeniorClears  machine.Event = "senior_clears"
	OnEndStopped    machine.Event = "end_stopped"
)

// Back returns the event that leads from ask_danger or paused back to a state. Where
// that state cannot be entered again as it was (a switch-on that was broken off, a
// cover that may or may not be off) the event leads to the state before it.
func Back(to machine.State) machine.Event {
	switch to {
	case SwitchOn:
		to = CloseUp
	case OpenHere:
		to = ProveHere
	}
	return "back_" + machine.Event(to)
}
