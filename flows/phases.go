package flows

import "halfsplit/flows/machine"

// The states of the dialog, the same for every complaint.
const (
	Intake       machine.State = "intake"        // which unit, what, when, what was tried and read
	MakeSafe     machine.State = "make_safe"     // the card: ticks
	LookOnly     machine.State = "look_only"     // below level dead: looks without covers
	Prove        machine.State = "prove"         // the card: typed values
	Isolate      machine.State = "isolate"       // readings that tell most
	CheckNeutral machine.State = "check_neutral" // before the neutral is lifted
	OpenHere     machine.State = "open_here"     // a cover of another compartment is to come off
	ProveHere    machine.State = "prove_here"    // it is off: prove dead there
	Confirm      machine.State = "confirm"       // direct test of the isolated part
	Verdict      machine.State = "verdict"       // say it, ask whether it explains the complaint
	Repair       machine.State = "repair"        // mended, or no part
	Land         machine.State = "land"          // every lifted end back on, one by one
	Permit       machine.State = "permit"        // readings before any switch-on
	CloseUp      machine.State = "close_up"      // tools, people, covers, lock, look
	SwitchOn     machine.State = "switch_on"     // the person on site decides; step by step
	Verify       machine.State = "verify"        // held or tripped; does it do its work
	LeaveSafe    machine.State = "leave_safe"    // make safe to leave, unit out of service
	Stopped      machine.State = "stopped"       // leaves only by a person's decision
	FalseAlarm   machine.State = "false_alarm"   // the tech said so once, and is asked again
	StoppedGrave machine.State = "stopped_grave" // shock, fire or injury: only a senior clears it
	AskDanger    machine.State = "ask_danger"    // a word that may only describe: now, or describing?
	Paused       machine.State = "paused"
	Done         machine.State = "done"        // closed
	HandedOver   machine.State = "handed_over" // a senior leads from here
)
