package safety

// Touch says how far a question sends a person into the unit.
type Touch uint8

// How far.
const (
	Talks     Touch = iota // an answer from memory or by looking; no cover is touched
	AsIfLive               // cover or tester, treated as live: nothing is proved yet
	Inside                 // hands or probes in a unit proved dead
	Energises              // the answer is got by switching on
)

// Ask is one question that the dialog may put, and the facts without which it must not.
type Ask struct {
	Code  string
	Touch Touch
	// Neutral is set if answering lifts a neutral, or counts on a lifted one.
	Neutral bool
	Needs   Facts
}

// asks is the table of questions. Its order is that of the dialog.
//
// Needs follow from 29 CFR 1910.333(b)(2) and 1910.334(b)(2), except for the order
// within the closing steps, which is 1910.333(b)(2)(v).
var asks = []Ask{
	// Intake, and what may be asked anywhere.
	{Code: "ask_unit"},
	{Code: "ask_complaint"},
	{Code: "ask_when"},
	{Code: "ask_dead"},  // which loads do not work
	{Code: "ask_looks"}, // of a dead unit: what is seen without a cover
	{Code: "ask_tried"},
	{Code: "ask_resets"},
	{Code: "ask_history"},
	{Code: "ask_who"},
	{Code: "ask_plate"},
	{Code: "ask_switching"},
	{Code: "ask_loads"},
	{Code: "ask_load_wires"},
	{Code: "ask_meaning"},     // what was typed may mean two things
	{Code: "ask_late"},        // an answer to an earlier question: count it?
	{Code: "ask_undo"},        // which reading to void
	{Code: "ask_hand_over"},   // offer a senior
	{Code: "ask_leave"},       // offer to leave the unit out of service
	{Code: "ask_now"},         // danger: now, or describing?
	{Code: "ask_resume"},      // after a pause
	{Code: "ask_false_alarm"}, // after a stop
	{Code: "ask_false_alarm_sure"},
	{Code: "ask_look"}, // looks without covers

	// Make safe. The card holds the ticks before the cover.
	{Code: "ask_safe_card"},
	{Code: "ask_safe_tick"}, // one that is missing
	{Code: "ask_cover", Touch: AsIfLive, Needs: ToCover &^ CoverOpened},
	{Code: "ask_proof", Touch: AsIfLive, Needs: ToCover}, // known source, pairs, known source, in one card
	{Code: "ask_known_before", Touch: AsIfLive, Needs: ToCover},
	{Code: "ask_pairs", Touch: AsIfLive, Needs: ToCover | KnownBefore},
	{Code: "ask_known_after", Touch: AsIfLive, Needs: ToCover | KnownBefore | PairsDead},
	{Code: "ask_guarded", Touch: AsIfLive, Needs: ToCover | KnownBefore | PairsDead | KnownAfter},

	// Isolate and confirm.
	{Code: "ask_leads", Touch: Inside, Needs: AtWork},
	{Code: "ask_reading", Touch: Inside, Needs: AtWork},
	{Code: "ask_act", Touch: Inside, Needs: AtWork}, // lift, land, move
	{Code: "ask_lift_neutral", Touch: Inside, Neutral: true, Needs: AtWork | NeutralDead},
	{Code: "ask_neutral", Touch: Inside, Needs: AtWork}, // volts to ground and clamp
	{Code: "ask_cover_here", Touch: AsIfLive, Needs: ProvedDead},
	{Code: "ask_proof_here", Touch: AsIfLive, Needs: ProvedDead},
	{Code: "ask_confirm", Touch: Inside, Needs: AtWork},
	{Code: "ask_explains"},

	// Repair, land, permit.
	{Code: "ask_mended", Touch: Inside, Needs: AtWork | CauseProved},
	{Code: "ask_land", Touch: Inside, Needs: AtWork},
	{Code: "ask_frame_bonded", Touch: Inside, Needs: AtWork | CauseProved | Mended},
	{Code: "ask_legs_sound", Touch: Inside, Needs: AtWork | CauseProved | Mended},
	{Code: "ask_legs_clear", Touch: Inside, Needs: AtWork | CauseProved | Mended},
	{Code: "ask_insulation", Touch: Inside, Needs: AtWork | CauseProved | Mended},
	{Code: "ask_all_landed", Touch: Inside, Needs: AtWork | Permit},

	// Close up and switch on.
	{Code: "ask_tools", Needs: Permit | AllLanded},
	{Code: "ask_covers", Needs: Permit | AllLanded | ToolsOff},
	{Code: "ask_people", Needs: Permit | AllLanded | ToolsOff | CoversOn},
	{Code: "ask_lock", Needs: Permit | AllLanded | ToolsOff | CoversOn | PeopleClear},
	{Code: "ask_looks_right", Needs: Permit | AllLanded | ToolsOff | CoversOn | PeopleClear | LockOff},
	{Code: "ask_site", Needs: MaySwitchOn &^ SiteDecides},
	{Code: "ask_switch_on", Touch: Energises, Needs: MaySwitchOn},
	{Code: "ask_works", Needs: Held},

	// Leave the unit out of service.
	{Code: "ask_ends_safe", Touch: Inside, Needs: AtWork},
	{Code: "ask_leave_tools", Needs: EndsSafe},
	{Code: "ask_leave_covers", Needs: EndsSafe | ToolsOff | Isolated | Locked},
	{Code: "ask_site_lock", Needs: EndsSafe | ToolsOff | CoversOn | Isolated | Locked},
}

// Asks returns the table of questions.
func Asks() []Ask { return append([]Ask(nil), asks...) }

// AskOf returns the question of that code.
func AskOf(code string) (Ask, bool) {
	for _, a := range asks {
		if a.Code == code {
			return a, true
		}
	}
	return Ask{}, false
}
