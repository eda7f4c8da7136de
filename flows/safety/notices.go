package safety

// Version names the table of asks, notices and limits. It is frozen into each job.
const Version = "safety-1"

// Severity is the signal word of a notice (the words of ISO 3864-2 and ANSI Z535).
type Severity string

// The severities, gravest first.
const (
	IsDanger  Severity = "danger"  // will kill or maim
	IsWarning Severity = "warning" // may
	IsCaution Severity = "caution" // may hurt, or harm the unit
	IsNotice  Severity = "notice"  // a rule, no injury
)

// Notice is one safety sentence with the place it comes from. Text is English; a
// translation keeps the code.
type Notice struct {
	Code     string
	Severity Severity
	Text     string
	Source   string
}

// practice is the source of what people in the trade do without a clause to cite.
const practice = "common practice, no source"

var notices = []Notice{
	// Who may do what.
	{"level_look", IsDanger, "Covers stay on. You may look and switch off. Opening the unit needs a qualified person.",
		"29 CFR 1910.333(b)(2)(iv), 1910.334(c)(1)"},
	{"not_supervised", IsNotice, "A chat is not supervision on site.", practice},
	{"qualified_tests", IsWarning, "Proving dead and all measuring is work for a qualified person.",
		"29 CFR 1910.333(b)(2)(iv), 1910.334(c)(1)"},

	// Make safe.
	{"order", IsDanger, "Keep the order: sources, off, isolate, lock, release, try, open, prove dead, guard. Then ohms.",
		"29 CFR 1910.147(d)(1)-(6), 1910.333(b)(2); EN 50110-1 §6.2; NFPA 70E 120.5"},
	{"not_yet", IsDanger, "Until dead is proved: no cover off, no hand inside, no connector pulled, no contactor pressed, nothing cleaned or moved.",
		"29 CFR 1910.333(b)(2); " + practice},
	{"all_sources", IsDanger, "Every source counts: second cord, control feed, 24 V from outside, lamps on their own breaker.",
		"29 CFR 1910.147(d)(1), 1910.333(b)(2)(ii)(A); NFPA 70E 120.5"},
	{"dry_hands", IsWarning, "Dry hands, stand to the side of the switch. Never unplug under load.", practice},
	{"burnt_plug", IsDanger, "Burnt, hot or wet plug: do not touch it. Kill it upstream.", practice},
	{"lock_each", IsDanger, "Your own lock and tag on each isolator.",
		"29 CFR 1910.147(d)(4), 1910.333(b)(2)(iii)"},
	{"not_isolation", IsDanger, "Push buttons, selector switches and interlocks do not isolate.",
		"29 CFR 1910.333(b)(2)(ii)(B)"},
	{"stored_energy", IsDanger, "Release what is stored: capacitors, springs, heat, steam, pressure, fan still running.",
		"29 CFR 1910.147(d)(5), 1910.333(b)(2)(ii)(C)-(D)"},
	{"try_start", IsWarning, "Try to start it, then set it back to off.",
		"29 CFR 1910.333(b)(2)(iv)(A)"},
	{"as_if_live", IsDanger, "Open the cover as if everything behind it were live.",
		"DOE-HDBK-1092-2004 §2.13.2.1"},

	// Plug.
	{"plug_control", IsDanger, "A pulled plug isolates only while you alone control it: in hand, or within reach and sight, or boxed and locked. Every cord of the unit.",
		"29 CFR 1910.147(a)(2)(iii)(A); reach, sight and box: " + practice},
	{"no_lock", IsWarning, "No lock possible: tag it and take one more step, such as the fuse out or a second disconnect open.",
		"29 CFR 1910.333(b)(2)(iii)(D)"},

	// Prove dead.
	{"prove_test_prove", IsDanger, "Tester on a known source, every pair, tester on the known source again. Type the numbers.",
		"GS38; NFPA 70E 120.5(7); DOE-HDBK-1092-2004 §2.13.2.1; required above 600 V by 29 CFR 1910.333(b)(2)(iv)(B)"},
	{"no_pen", IsDanger, "A non-contact pen proves nothing.", "GS38; DOE-HDBK-1092-2004 §2.13.2.1"},
	{"below_3", IsNotice, "Below 3 V, settled, is dead.", practice},
	{"below_30", IsWarning, "3 V to 30 V is not dead. Use low-impedance mode and find where it comes from.", practice},
	{"from_30", IsDanger, "30 V or more is live. Hands out, back off. A source is not isolated.", practice},
	{"pe_broken", IsWarning, "A line at 0 V to ground proves nothing if the ground wire is broken. Read line to line and line to neutral too.", practice},
	{"no_ohms_live", IsDanger, "Never an ohmmeter on a live circuit.", "NEETS Module 16 (NAVEDTRA 14188) p. 3-30"},
	{"guard", IsDanger, "What stays live near your hands is covered before you go on.", "EN 50110-1 §6.2; 29 CFR 1910.333(c)"},

	// Dead does not last.
	{"proof_lost", IsDanger, "The proof of dead no longer holds. Prove it again before you touch anything.",
		"29 CFR 1910.333(b)(2)(iv)(B); times and places: " + practice},
	{"own_main_switch", IsDanger, "The unit's own main switch leaves its line terminals live. Isolate upstream, or guard them.", practice},
	{"second_person", IsDanger, "Another pair of hands: own lock, own proof.", "29 CFR 1910.147(f)(3)"},
	{"never_bridge", IsDanger, "Safety devices are never bridged.", practice},

	// Switching on after a trip.
	{"no_reset", IsDanger, "No reset until readings say so.", "29 CFR 1910.334(b)(2)"},
	{"no_second_try", IsDanger, "It tripped: no second try on the same evidence. A new cause is proved first.", "29 CFR 1910.334(b)(2)"},
	{"no_bigger", IsDanger, "Never a bigger breaker or fuse.", "29 CFR 1910.334(b)(2); " + practice},
	{"residual_trip", IsDanger, "A residual-current trip is leakage. It is never an overload.", practice},
	{"insulation_test", IsWarning, "500 V test: electronics disconnected, everyone warned, discharge afterwards.", practice},
	{"site_decides", IsNotice, "The qualified person on site decides whether to switch on. A yes from elsewhere comes on top, never instead.",
		"29 CFR 1910.334(b)(2), 1910.334(c)(1)"},

	// The switch-on itself.
	{"release_order", IsDanger, "In this order: tools and jumpers off, counted; everyone told and clear; lock off by its owner; look it all over.",
		"29 CFR 1910.333(b)(2)(v), 1910.147(e)(1)-(3)"},
	{"all_ends", IsDanger, "A lifted end that is not landed or capped and tied back stops the switch-on. So does any neutral or ground wire off, a limit or interlock disconnected, a cover off.",
		"29 CFR 1910.333(b)(2)(v); " + practice},
	{"stand_aside", IsWarning, "Unit's switch off, then the breaker, standing to the side. Then branch by branch.", practice},

	// What is never lifted.
	{"never_lift", IsDanger, "Never lift: ground wires, bonds, anything upstream of the isolator, a neutral that serves something still on.",
		"29 CFR 1910.333(b)(2); " + practice},
	{"neutral_first", IsDanger, "Before the neutral comes off: 0 V to ground, 0 A on the clamp, at the unit's own terminals only. A shared neutral needs all its legs open.", practice},

	// Stop.
	{"stop", IsDanger, "Stop. Hands out of the unit, step back. Nothing goes on until you say what happened.", practice},
	{"stop_shock", IsDanger, "Stop. Do not touch a victim until the power is off. Call emergency services. Any shock means a medical check and ends the job.", practice},
	{"stop_gas", IsDanger, "Stop. Gas: touch no switch, not even the disconnect. Everyone out. Call from outside.", practice},
	{"stop_fire", IsDanger, "Stop. Fire: everyone out, call emergency services. Power off only if you reach it safely.", practice},
	{"stop_arc", IsDanger, "Stop. Step back, hands off. Kill the power upstream if you reach it safely.", practice},
	{"stop_water", IsDanger, "Stop. Stay out of the water. Kill the power from a dry place if you reach it safely.", practice},

	// What everything here is under.
	{"local_rules", IsNotice, "Your local code, your employer's procedure and a licensed person come before anything said here.", practice},
	{"gates_for_all", IsNotice, "Nobody who leads the job can have a question asked that a gate forbids.", practice},
}

// Notices returns the table of notices, in the order of the rules they belong to.
func Notices() []Notice { return append([]Notice(nil), notices...) }

// NoticeOf returns the notice of that code.
func NoticeOf(code string) (Notice, bool) {
	for _, n := range notices {
		if n.Code == code {
			return n, true
		}
	}
	return Notice{}, false
}
