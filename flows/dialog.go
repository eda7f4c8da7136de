package flows

import (
	"fmt"
	"strconv"
	"strings"
	"sync"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
)

// Shelf is the library of unit files. It is read from several goroutines.
type Shelf interface {
	// Entries lists the units, in the order in which they are to be offered.
	Entries() []Entry
	// Unit returns the unit of a hash, also of one that is no longer offered.
	Unit(h circuit.Hash) (*circuit.Unit, bool)
}

// Entry is one unit on the shelf.
type Entry struct {
	Hash  circuit.Hash
	Name  string   // as said to a person
	Words []string // what people call it; lower case
}

// Versions of what a job is judged by, as recorded when it is opened.
const (
	EngineVersion = "1"
	PolicyVersion = "1"
	SafetyVersion = "1"
)

// keptModels bounds how many units' models are held at a time.
const keptModels = 32

// Dialog decides what is asked and said. It may be used from several goroutines.
type Dialog struct {
	shelf Shelf

	mu    sync.Mutex
	known []*bench // oldest first
}

// bench is what is computed once for a unit.
type bench struct {
	unit  *circuit.Unit
	model *isolate.Model
	once  sync.Once
}

// New returns a dialog about the units of shelf.
func New(shelf Shelf) *Dialog { return &Dialog{shelf: shelf} }

// Unit returns the unit of a job; nil before it is known.
func (d *Dialog) Unit(j Job) (*circuit.Unit, error) {
	b, err := d.bench(j)
	if err != nil || b == nil {
		return nil, err
	}
	return b.unit, nil
}

func (d *Dialog) bench(j Job) (*bench, error) {
	if j.Opened == nil {
		return nil, nil
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, b := range d.known {
		if b.unit.Hash == j.Opened.Unit {
			return b, nil
		}
	}
	u, err := d.load(j.Opened)
	if err != nil {
		return nil, err
	}
	if len(d.known) >= keptModels {
		d.known = append([]*bench(nil), d.known[1:]...)
	}
	b := &bench{unit: u}
	d.known = append(d.known, b)
	return b, nil
}

func (d *Dialog) load(o *Opened) (*circuit.Unit, error) {
	if len(o.Source) > 0 {
		return skeletonFrom(o.Source)
	}
	u, ok := d.shelf.Unit(o.Unit)
	if !ok {
		return nil, fmt.Errorf("flows: no unit %x on the shelf", o.Unit[:6])
	}
	return u, nil
}

// engine returns the model of the unit, computed at its first use.
func (b *bench) engine() *isolate.Model {
	b.once.Do(func() { b.model = isolate.New(circuit.NewNetwork(b.unit)) })
	return b.model
}

// caseOf is what is known of a job apart from readings at points.
func caseOf(j Job) isolate.Case {
	c := isolate.Case{Complaint: isolate.TripsAtOnce, Leads: -1}
	switch {
	case j.Tell("second fault") != "":
		// It was found by the readings before the switch: it need not explain the complaint.
		c.Complaint = isolate.AnyComplaint
	case j.Tell("complaint") == doesNotWork:
		c.Complaint = isolate.DoesNotWork
		c.Dead = append(partsIn(j.Tell("dead loads")), partsIn(j.Tell("no click"))...)
		c.Works = append(partsIn(j.Tell("working loads")), partsIn(j.Tell("clicks"))...)
	}
	switch j.Tell("when") {
	case "switch":
		c.When = isolate.AtSwitch
	case "breaker":
		c.When = isolate.AtBreaker
	}
	switch j.Tell("coil off") {
	case "held":
		c.CoilOff = 1
	case "tripped":
		c.CoilOff = -1
	}
	if r, ok := readDecimal(j.Tell("leads")); ok {
		c.Leads = quantity.Ohms(r)
	}
	c.NewParts = renewed(j)
	return c
}

// renewed are the items that were repaired or replaced in this job.
func renewed(j Job) []circuit.Item {
	var items []circuit.Item
	for _, word := range strings.Fields(j.Tell("renewed")) {
		n, err := strconv.Atoi(word[1:])
		switch {
		case err != nil:
		case word[0] == 'p':
			items = append(items, circuit.PartItem(circuit.PartID(n)))
		case word[0] == 'w':
			items = append(items, circuit.WireItem(circuit.WireID(n)))
		}
	}
	return items
}

// itemWord is an item as recorded under "renewed": "p3", "w12".
func itemWord(it circuit.Item) string {
	if it.Wire >= 0 {
		return "w" + strconv.Itoa(int(it.Wire))
	}
	return "p" + strconv.Itoa(int(it.Part))
}

// convicted is the item that was found to be at fault.
func convicted(j Job) (circuit.Item, bool) {
	if j.Verdict == nil {
		return circuit.Item{}, false
	}
	return j.Verdict.Item, true
}
