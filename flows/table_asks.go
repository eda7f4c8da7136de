package flows

import (
	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
)

// asksOf says which questions may be put in which state, in the order of the dialog.
func asksOf(at machine.State) []string {
	switch at {
	case Intake:
		return []string{"ask_unit", "ask_complaint", "ask_when", "ask_dead", "ask_looks", "ask_tried", "ask_resets", "ask_history", "ask_who",
			"ask_plate", "ask_switching", "ask_loads", "ask_load_wires"}
	case MakeSafe:
		return []string{"ask_safe_card", "ask_safe_tick", "ask_cover", "ask_leave"}
	case LookOnly:
		return []string{"ask_look", "ask_leave"}
	case Prove:
		return []string{"ask_proof", "ask_known_before", "ask_pairs", "ask_known_after", "ask_guarded", "ask_leave"}
	case Isolate:
		return []string{"ask_leads", "ask_reading", "ask_act", "ask_lift_neutral", "ask_undo", "ask_leave"}
	case CheckNeutral:
		return []string{"ask_neutral"}
	case OpenHere:
		return []string{"ask_cover_here"}
	case ProveHere:
		return []string{"ask_proof_here"}
	case Confirm:
		return []string{"ask_confirm", "ask_act", "ask_lift_neutral", "ask_undo", "ask_leave"}
	case Verdict:
		return []string{"ask_explains", "ask_undo", "ask_leave"}
	case Repair:
		return []string{"ask_mended", "ask_act", "ask_leave"}
	case Land:
		return []string{"ask_land", "ask_act", "ask_leave"}
	case Permit:
		return []string{"ask_frame_bonded", "ask_legs_sound", "ask_legs_clear", "ask_insulation", "ask_lift_neutral",
			"ask_act", "ask_all_landed", "ask_undo", "ask_leave"}
	case CloseUp:
		return []string{"ask_tools", "ask_covers", "ask_people", "ask_lock", "ask_looks_right", "ask_site", "ask_leave"}
	case SwitchOn:
		return []string{"ask_switch_on"}
	case Verify:
		return []string{"ask_works"}
	case LeaveSafe:
		return []string{"ask_ends_safe", "ask_leave_tools", "ask_leave_covers", "ask_site_lock"}
	case AskDanger:
		return []string{"ask_now"}
	case Paused:
		return []string{"ask_resume"}
	case Stopped:
		return []string{"ask_false_alarm"}
	case FalseAlarm:
		return []string{"ask_false_alarm_sure"}
	}
	return nil
}

// anywhere are the questions that may be put in every state but a stop or an end.
func anywhere(at machine.State) []string {
	switch at {
	case Stopped, FalseAlarm, StoppedGrave, AskDanger, Done, HandedOver:
		return nil
	}
	return []string{"ask_meaning", "ask_late", "ask_hand_over"}
}

// PromptsOf returns the questions that may be put in a state, in the order of the
// dialog. A question may be put only if MayAsk says that nothing is lacking.
func PromptsOf(at machine.State) []safety.Ask {
	var list []safety.Ask
	for _, code := range append(asksOf(at), anywhere(at)...) {
		if a, ok := safety.AskOf(code); ok {
			list = append(list, a)
		}
	}
	return list
}

// MayAsk returns the facts that are lacking before the question may be put in that
// state: none if it may. A question that does not belong to the state lacks every
// fact, and more than there are.
func MayAsk(at machine.State, facts safety.Facts, ask Code) (lack safety.Facts) {
	for _, a := range PromptsOf(at) {
		if a.Code == string(ask) {
			return a.Needs &^ facts
		}
	}
	return ^safety.Facts(0)
}
