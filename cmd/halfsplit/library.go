package main

import (
	"context"
	"flag"
	"fmt"
	"strings"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/testdata/units"
)

var _ flows.Shelf = (*library)(nil)

// library is the unit files that come with the program. It does not change.
type library struct {
	units []*circuit.Unit
}

// readLibrary reads every unit file. The problems of all of them are in its error.
func readLibrary() (*library, error) {
	files, err := units.Library()
	if err != nil {
		return nil, err
	}
	var l library
	var bad []string
	for _, f := range files {
		u, problems := circuit.Parse(f.Name, f.Source)
		for _, p := range problems {
			bad = append(bad, p.String())
		}
		if len(problems) == 0 {
			l.units = append(l.units, u)
		}
	}
	if bad != nil {
		return nil, &plainError{"The library has unit files with mistakes:\n" + strings.Join(bad, "\n")}
	}
	return &l, nil
}

// Entries implements flows.Shelf: the units in the order of their file names.
func (l *library) Entries() []flows.Entry {
	var all []flows.Entry
	for _, u := range l.units {
		all = append(all, flows.Entry{Hash: u.Hash, Name: u.Name, Words: calledBy(u)})
	}
	return all
}

// calledBy are the words people call a unit by: its name up to the first comma, and the
// name of its file.
func calledBy(u *circuit.Unit) []string {
	name, _, _ := strings.Cut(u.Name, ",")
	file := strings.ReplaceAll(strings.TrimSuffix(u.File, ".yaml"), "-", " ")
	words := []string{strings.ToLower(name)}
	if file != words[0] {
		words = append(words, file)
	}
	return words
}

// Unit implements flows.Shelf.
func (l *library) Unit(h circuit.Hash) (*circuit.Unit, bool) {
	for _, u := range l.units {
		if u.Hash == h {
			return u, true
		}
	}
	return nil, false
}

// source returns the text of a unit file.
func (l *library) source(h circuit.Hash) ([]byte, bool) {
	u, ok := l.Unit(h)
	if !ok {
		return nil, false
	}
	return u.Source, true
}

// listUnits prints the library.
func listUnits(_ context.Context, p program, args []string) error {
	if _, err := parse(flag.NewFlagSet("units", flag.ContinueOnError), args, 0); err != nil {
		return err
	}
	l, err := readLibrary()
	if err != nil {
		return err
	}
	for _, u := range l.units {
		if _, err := fmt.Fprintf(p.out, "%-24s %s: %.0f V, %d parts, %d wires\n", u.File, u.Name, float64(u.Plate.Volts), len(u.Parts), len(u.Wires)); err != nil {
			return err
		}
	}
	return nil
}
