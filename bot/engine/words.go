package engine

import "halfsplit/flows"

// What the engine says itself. All else that is said comes from the dialog.
const (
	// refusal is all that a stranger is told, once.
	refusal = "I only work with the people this shop has signed up. Please ask the shop to add you."
	// breakMark stands before a message that is shown once more after a restart.
	breakMark = "As before the break: "
	// apologyMessage and apologyTimer are said when the dialog failed three times.
	apologyMessage = "I could not work on your last message; the fault is mine. It is kept in the record, and I have changed nothing because of it. " +
		"Keep the unit as it is, off and locked if it is locked. Say it in other words, or call a senior."
	apologyTimer = "I missed a check that was due by the clock; the fault is mine. " +
		"If anyone is at the unit, make sure they are well. Then go on, or call a senior."
)

// codeApology names the apologies in a said event.
const codeApology flows.Code = "engine_failed"
