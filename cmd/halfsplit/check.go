package main

import (
	"cmp"
	"context"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/testdata/units"
)

// check prints every problem of some unit files and one line for each file.
func check(_ context.Context, p program, args []string) error {
	names, err := parse(flag.NewFlagSet("check", flag.ContinueOnError), args, -1)
	if err != nil {
		return err
	}
	if len(names) == 0 {
		return &usageError{"halfsplit check: a word is missing behind it, the unit. Try: halfsplit help"}
	}
	var files []units.File
	for _, name := range names { // all first: a wrong name is a wrong command line
		f, err := unitFile("check", name)
		if err != nil {
			return err
		}
		files = append(files, f)
	}
	count, bad := 0, 0
	for _, f := range files {
		u, problems := problemsOf(f)
		for _, problem := range problems {
			if _, err := fmt.Fprintln(p.out, problem); err != nil {
				return err
			}
		}
		if _, err := fmt.Fprintln(p.out, summary(f.Name, u, len(problems))); err != nil {
			return err
		}
		count += len(problems)
		if len(problems) > 0 {
			bad++
		}
	}
	if count == 0 {
		return nil
	}
	return &plainError{fmt.Sprintf("%s in %d of %s.", counted(count, "problem"), bad, counted(len(files), "file"))}
}

// problemsOf reads a unit file and looks at it. The unit is nil if it cannot be read.
func problemsOf(f units.File) (*circuit.Unit, []circuit.Problem) {
	u, problems := circuit.Parse(f.Name, f.Source)
	if len(problems) > 0 {
		return nil, problems
	}
	net := circuit.NewNetwork(u)
	problems = append(circuit.Lint(net), isolate.BlindProblems(net)...)
	slices.SortStableFunc(problems, func(x, y circuit.Problem) int {
		return cmp.Or(cmp.Compare(x.Line, y.Line), cmp.Compare(x.Col, y.Col))
	})
	return u, problems
}

// summary is the line of a file.
func summary(name string, u *circuit.Unit, problems int) string {
	var what []string
	if u != nil {
		what = []string{strings.Join([]string{
			counted(len(u.Parts), "part"), counted(len(u.Wires), "wire"), counted(len(u.Covers), "cover"),
		}, ", ")}
		if u.Partial {
			what[0] += ", partial"
		}
	}
	if problems == 0 {
		what = append(what, "no problem")
	} else {
		what = append(what, counted(problems, "problem"))
	}
	return name + ": " + strings.Join(what, "; ")
}

// counted is "1 part", "2 parts".
func counted(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// unitFile returns a unit file by its path, or one of the library by its name, with or
// without .yaml.
func unitFile(command, name string) (units.File, error) {
	src, err := os.ReadFile(name)
	if err == nil {
		return units.File{Name: name, Source: src}, nil
	}
	all, libErr := units.Library()
	if libErr != nil {
		return units.File{}, libErr
	}
	var known []string
	for _, f := range all {
		if f.Name == name || strings.TrimSuffix(f.Name, ".yaml") == name {
			return f, nil
		}
		known = append(known, strings.TrimSuffix(f.Name, ".yaml"))
	}
	if errors.Is(err, fs.ErrNotExist) && filepath.Base(name) == name {
		return units.File{}, &usageError{fmt.Sprintf("halfsplit %s: there is no file %q, and the library has only: %s", command, name, strings.Join(known, ", "))}
	}
	return units.File{}, &usageError{fmt.Sprintf("halfsplit %s: the file cannot be read: %v", command, err)}
}
