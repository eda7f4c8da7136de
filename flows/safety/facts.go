// Package safety holds the facts that gates ask for, what each question to the
// person on site needs, and the notices that go with them. It knows no circuit.
package safety

// Facts is a set of things established on site in this job. They are only set by
// events of the dialog's table and only dropped by them.
type Facts uint64

// The facts, in the order in which they are established. Source of the order:
// 29 CFR 1910.147(d), 1910.333(b)(2); GS38; EN 50110-1.
const (
	NobodyHurt  Facts = 1 << iota // nobody hurt; no gas, smoke, standing water
	Qualified                     // the person who works has level dead or more
	KitReady                      // gloves, eye protection, tester of the right category, leads in the volt jack
	SourcesRead                   // all sources and hazards of the unit read and agreed
	KitchenTold
	UnitOff     // the unit's own switch
	Isolated    // every isolator open
	Locked      // lock and tag on each, own lock
	Released    // stored energy
	TriedStart  // tried to start, then back to off
	CoverOpened // opened as if live
	KnownBefore // tester read a known source
	PairsDead   // every pair below 3 V
	KnownAfter  // tester read the known source again
	Guarded     // what stays live is guarded, or nothing does

	NeutralDead // neutral to PE 0 V and clamp 0 A, at the unit's own terminals
	HereDead    // proved dead in the compartment just opened

	CauseProved  // a fault was convicted and confirmed
	Mended       // the item was repaired or replaced
	FrameBonded  // frame to ground ≤ 0.2 Ω
	LegsSound    // leg to leg and leg to neutral not below 90 % of the computed sound value
	LegsClear    // each leg and N to frame above 1 MΩ with the neutral lifted or plug out
	Insulated    // 500 V insulation test passed, or not called for
	AllLanded    // every lifted end back on, or capped, tied back and tagged where nothing is energised
	CoversOn     //
	ToolsOff     // tools, jumpers, shorts and grounds off, counted
	PeopleClear  // everyone told and clear
	LockOff      // removed by its owner
	LooksRight   // visual check
	SiteDecides  // the qualified person on site decides to switch on
	SeniorAgrees // a senior's yes on top, where one is asked for
)

// ProvedDead is everything that must hold before a hand or a probe goes into the unit.
const ProvedDead = NobodyHurt | Qualified | KitReady | SourcesRead | KitchenTold |
	UnitOff | Isolated | Locked | Released | TriedStart | CoverOpened |
	KnownBefore | PairsDead | KnownAfter | Guarded

// Permit is what must be measured before anything is switched on after a trip.
const Permit = CauseProved | Mended | FrameBonded | LegsSound | LegsClear | Insulated

// MaySwitchOn is everything that must hold at the moment of switching on.
const MaySwitchOn = NobodyHurt | Qualified | KitReady | SourcesRead | Permit | AllLanded | CoversOn |
	ToolsOff | PeopleClear | LockOff | LooksRight | SiteDecides
