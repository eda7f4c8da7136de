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
	CoversOn     // every cover back on
	ToolsOff     // tools, jumpers, shorts and grounds off, counted
	PeopleClear  // everyone told and clear
	LockOff      // removed by its owner
	LooksRight   // visual check
	SiteDecides  // the qualified person on site decides to switch on
	SeniorAgrees // a senior's yes on top, where one is asked for

	Held       // switched on after the permit, and it held
	EndsSafe   // to leave: every lifted end landed, or capped, tied back and tagged
	SiteLocked // to leave: the site's own lock or tag is on
)

// All is every fact there is.
const All = SiteLocked<<1 - 1

// ProvedDead is everything that must hold before a hand or a probe goes into the unit.
const ProvedDead = NobodyHurt | Qualified | KitReady | SourcesRead | KitchenTold |
	UnitOff | Isolated | Locked | Released | TriedStart | CoverOpened |
	KnownBefore | PairsDead | KnownAfter | Guarded

// AtWork is what must hold while a person works inside the unit: proved dead, and
// proved in the compartment opened last.
const AtWork = ProvedDead | HereDead

// ToCover is everything before the tester goes on: the first part of ProvedDead.
const ToCover = NobodyHurt | Qualified | KitReady | SourcesRead | KitchenTold |
	UnitOff | Isolated | Locked | Released | TriedStart | CoverOpened

// Proof is what was proved by measuring. It holds for a place, a person and a time.
const Proof = KnownBefore | PairsDead | KnownAfter | Guarded | NeutralDead | HereDead

// Dead is everything that keeps the unit dead, and its proof.
const Dead = Isolated | Locked | Released | TriedStart | CoverOpened | Proof

// Permit is what must be measured before anything is switched on after a trip.
const Permit = CauseProved | Mended | FrameBonded | LegsSound | LegsClear | Insulated

// Readings are the part of Permit that is measured after mending.
const Readings = FrameBonded | LegsSound | LegsClear | Insulated

// Closing is what is reported between the last reading and the switch.
const Closing = CoversOn | ToolsOff | PeopleClear | LockOff | LooksRight | SiteDecides | SeniorAgrees

// Leaving is what is reported when a unit is left out of service.
const Leaving = EndsSafe | SiteLocked

// MaySwitchOn is everything that must hold at the moment of switching on.
const MaySwitchOn = NobodyHurt | Qualified | KitReady | SourcesRead | Permit | AllLanded | CoversOn |
	ToolsOff | PeopleClear | LockOff | LooksRight | SiteDecides
