package main

import (
	"context"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"halfsplit/flows/circuit"
	"halfsplit/flows/quantity"
)

// expect prints what a sound unit reads.
func expect(_ context.Context, p program, args []string) error {
	fs := flag.NewFlagSet("expect", flag.ContinueOnError)
	var sets []string
	fs.Func("set", "", func(s string) error {
		sets = append(sets, strings.Split(s, ",")...)
		return nil
	})
	live := fs.Bool("live", false, "")
	asCSV := fs.Bool("csv", false, "")
	rest, err := parse(fs, args, 1)
	if err != nil {
		return err
	}
	f, err := unitFile("expect", rest[0])
	if err != nil {
		return err
	}
	u, problems := circuit.Parse(f.Name, f.Source)
	if len(problems) > 0 {
		for _, problem := range problems {
			fmt.Fprintln(p.out, problem)
		}
		return &plainError{counted(len(problems), "problem") + ". Nothing can be computed before the file can be read."}
	}
	s := circuit.State{}
	if *live {
		s = circuit.InUse(u)
	}
	if s, err = setParts(u, s, sets); err != nil {
		return err
	}
	net := circuit.NewNetwork(u)
	var rows []circuit.Expected
	sheet := &sheet{w: p.out, u: u, s: s}
	if *live {
		if rows, sheet.in, err = circuit.ExpectLive(net, s); err != nil {
			return liveError(err)
		}
	} else {
		rows = circuit.ExpectDead(net, s)
	}
	switch {
	case *asCSV:
		return writeCSV(p.out, rows)
	case *live:
		sheet.live(rows)
	default:
		sheet.dead(rows)
	}
	return sheet.err
}

// liveError puts the reason why a unit cannot be energised into words.
func liveError(err error) error {
	switch {
	case errors.Is(err, circuit.ErrBuzz):
		return &plainError{"A contactor drops out and pulls in again without end here. Try: halfsplit check"}
	case errors.Is(err, circuit.ErrRace):
		return &plainError{"Which contactor pulls in depends on which is faster here. Try: halfsplit check"}
	}
	return err
}

// setParts moves parts as --set says: S1=on.
func setParts(u *circuit.Unit, s circuit.State, sets []string) (circuit.State, error) {
	for _, set := range sets {
		tag, to, ok := strings.Cut(strings.TrimSpace(set), "=")
		if !ok {
			return s, &usageError{fmt.Sprintf("halfsplit expect: --set %q is not PART=POSITION, as in --set S1=on", set)}
		}
		found := false
		for i := range u.Parts {
			part := &u.Parts[i]
			if !strings.EqualFold(part.Tag, tag) || len(part.Positions) == 0 {
				continue
			}
			for pos, name := range part.Positions {
				if strings.EqualFold(name, to) {
					s, found = s.Move(u, circuit.PartID(i), pos), true
				}
			}
			if !found {
				return s, &usageError{fmt.Sprintf("halfsplit expect: %s has no position %q, it has: %s", part.Tag, to, strings.Join(part.Positions, ", "))}
			}
		}
		if !found {
			return s, &usageError{fmt.Sprintf("halfsplit expect: there is no part %q that can be set", tag)}
		}
	}
	return s, nil
}

// writeCSV writes one line a value (RFC 4180): ohms, volts and amperes as plain
// numbers, OL for no path.
func writeCSV(w io.Writer, rows []circuit.Expected) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	if err := out.Write([]string{"table", "setting", "what", "from", "to", "off", "low", "nominal", "high", "unit"}); err != nil {
		return err
	}
	units := map[quantity.Unit]string{quantity.Ohm: "ohm", quantity.Volt: "V", quantity.Amp: "A"}
	for _, r := range rows {
		line := []string{r.Table.String(), r.Setting, r.What, r.From, r.To, r.Off}
		for _, x := range []float64{r.Lo, r.Nominal, r.Hi} {
			line = append(line, plainNumber(x))
		}
		if err := out.Write(append(line, units[r.Unit])); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// plainNumber is a number of five digits at most behind its first, without exponent.
func plainNumber(x float64) string {
	switch {
	case math.IsInf(x, 1):
		return "OL"
	case math.Abs(x) < 1e-6:
		return "0"
	}
	return strconv.FormatFloat(roundTo(x, 6), 'f', -1, 64)
}

// roundTo rounds to a number of significant digits.
func roundTo(x float64, digits int) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'e', digits-1, 64), 64)
	if err != nil {
		return x
	}
	return r
}

// sheet prints expected values for people.
type sheet struct {
	w   io.Writer
	u   *circuit.Unit
	s   circuit.State
	in  circuit.Bits
	err error
}

func (t *sheet) line(format string, args ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintln(t.w, strings.TrimRight(fmt.Sprintf(format, args...), " "))
	}
}

// sheetWidth is the width of a sheet in characters.
const sheetWidth = 100

// bandWidth is the width of a value with its band.
const bandWidth = 28

// columns prints a label and cells, the last of which has room for a band: the label
// takes what the cells leave.
func (t *sheet) columns(label string, width int, cells ...string) {
	room := sheetWidth - width*(len(cells)-1) - bandWidth
	if utf8.RuneCountInString(label) > room-1 {
		t.line("%s", label)
		label = ""
	}
	var b strings.Builder
	b.WriteString(pad(label, room))
	for _, c := range cells {
		b.WriteString(pad(c, width))
	}
	t.line("%s", b.String())
}

func pad(s string, width int) string {
	return s + strings.Repeat(" ", max(width-utf8.RuneCountInString(s), 0))
}

// wrapped prints a paragraph.
func (t *sheet) wrapped(text string) {
	line := ""
	for word := range strings.FieldsSeq(text) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > sheetWidth {
			t.line("%s", line)
			line = ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	t.line("%s", line)
}

// head says what the sheet is of.
func (t *sheet) head(power string) {
	t.wrapped(fmt.Sprintf("%s (%s): what a sound unit reads, %s.", t.u.Name, t.u.File, power))
	switch setting := t.u.Setting(t.s); setting {
	case "":
		t.line("All parts at rest.")
	default:
		t.wrapped("Set: " + setting + ". Everything else at rest.")
	}
}

// dead prints ohms.
func (t *sheet) dead(rows []circuit.Expected) {
	var off []string
	neutral := false
	for _, s := range t.u.Sources {
		where := s.Isolator.Name + " open"
		if s.Isolator.Kind == circuit.Plug {
			where = s.Isolator.Name + " out"
		}
		if len(s.Isolator.Leaves) > 0 {
			where += ", " + strings.Join(s.Isolator.Leaves, " and ") + " still connected"
		}
		off = append(off, where)
		for _, leg := range s.Legs {
			neutral = neutral || leg == "N"
		}
	}
	t.head("power off (" + strings.Join(off, "; ") + ")")
	t.wrapped("In brackets: all parts at the low end of their tolerances, all at the high end. Leads not included.")
	t.line("")
	const cell = bandWidth
	table := func(name string, table circuit.Table, heads ...string) [][]circuit.Expected {
		if neutral {
			heads = append(heads, "neutral lifted")
		}
		t.columns(name, cell, heads...)
		return grouped(rows, table)
	}
	for _, g := range table("PARTS, END TO END", circuit.PartOhms, "its wires off", "in circuit") {
		t.columns(g[0].What, cell, cells(g, 1)...)
	}
	t.line("")
	free := make(map[string][]circuit.Expected)
	for _, g := range grouped(rows, circuit.FreeEnd) {
		free[g[0].What] = g
	}
	for _, g := range table("WIRES", circuit.WireOhms, "end to end", "first end off, to ground") {
		row := append([]string{valueOf(g[0])}, cells(free[g[0].What], 0)...)
		if len(row) == 1 {
			row = append(row, "never lifted")
			if neutral {
				row = append(row, "")
			}
		}
		t.columns(g[0].What, cell, row...)
	}
	t.line("")
	for _, g := range table("EACH POINT TO GROUND", circuit.PointOhms, "all landed") {
		t.columns(g[0].What, cell, cells(g, 0)...)
	}
	t.line("")
	rest := make(map[string]string) // as first listed
	last := "none"
	for _, g := range table("LEGS, PARTS MOVED BY HAND", circuit.LegOhms, "all landed") {
		row := cells(g, 0)
		said := strings.Join(row, "|")
		if setting := g[0].Setting; setting != last {
			head := setting
			if head == "" {
				head = "at rest"
			}
			if last != "none" {
				head += " (only what differs from the first)"
			}
			t.wrapped(head)
			last = setting
		}
		if was, ok := rest[g[0].What]; ok && was == said {
			continue
		}
		if _, ok := rest[g[0].What]; !ok {
			rest[g[0].What] = said
		}
		t.columns("  "+g[0].What, cell, row...)
	}
}

// grouped collects the values of a table that belong in one line: those of the same
// points in the same setting.
func grouped(rows []circuit.Expected, table circuit.Table) [][]circuit.Expected {
	var out [][]circuit.Expected
	index := make(map[[2]string]int)
	for _, r := range rows {
		if r.Table != table {
			continue
		}
		key := [2]string{r.Setting, r.What}
		if i, ok := index[key]; ok {
			out[i] = append(out[i], r)
			continue
		}
		index[key] = len(out)
		out = append(out, []circuit.Expected{r})
	}
	return out
}

// cells formats the values of a line; "same" stands for that of the cell before, from
// the given cell on.
func cells(g []circuit.Expected, from int) []string {
	var out []string
	last := ""
	for i, r := range g {
		v := valueOf(r)
		switch {
		case i > from && v == last:
			out = append(out, "same")
		default:
			out = append(out, v)
		}
		last = v
	}
	return out
}

// valueOf is "66.6 Ω (63.2 to 73.9)", the band in the same prefix; no band where it
// does not show.
func valueOf(r circuit.Expected) string {
	nominal := amount(r.Unit, r.Nominal)
	lo, hi := amount(r.Unit, r.Lo), amount(r.Unit, r.Hi)
	if lo == hi || r.Hi-r.Lo < 0.005*r.Nominal {
		return nominal
	}
	_, unit, _ := strings.Cut(nominal, nbsp)
	bare := func(s string) string {
		if n, u, ok := strings.Cut(s, nbsp); ok && u == unit {
			return n
		}
		return s
	}
	return nominal + " (" + bare(lo) + " to " + bare(hi) + ")"
}

// nbsp stands between a number and its unit.
const nbsp = "\u00a0"

func amount(u quantity.Unit, x float64) string {
	switch u {
	case quantity.Volt:
		if x < 0.05 {
			return "0" + nbsp + "V"
		}
		return quantity.Volts(x).String()
	case quantity.Amp:
		if x < 0.0005 {
			return "0" + nbsp + "A"
		}
		return quantity.Amps(x).String()
	}
	if x < 0.005 {
		return "0" + nbsp + "Ω"
	}
	return quantity.Ohms(x).String()
}

// mark is what is printed at a terminal: "A1" of "K1:A1".
func mark(point string) string {
	_, name, ok := strings.Cut(point, ":")
	if !ok {
		return point
	}
	return name
}

// live prints volts and amperes.
func (t *sheet) live(rows []circuit.Expected) {
	t.head("power on")
	var in []string
	for _, p := range t.in.Each() {
		in = append(in, t.u.Parts[p].Tag)
	}
	switch {
	case in != nil:
		t.line("Pulled in: %s.", strings.Join(in, ", "))
	default:
		t.line("No contactor or relay is pulled in.")
	}
	t.wrapped("Only for people who may take live readings. In brackets: all parts at the high end of their tolerances, all at the low end.")
	t.line("")
	const narrow = 17
	t.columns("LEGS", narrow, "amps", "", "", "")
	for _, g := range grouped(rows, circuit.LegAmps) {
		t.columns(g[0].What, narrow, valueOf(g[0]), "", "", "")
	}
	t.line("")
	t.columns("LOADS", narrow, "across", "first to ground", "second to ground", "amps")
	amps := grouped(rows, circuit.LoadAmps)
	for i, g := range grouped(rows, circuit.LoadVolts) {
		row := []string{}
		for _, r := range g {
			r.Lo, r.Hi = r.Nominal, r.Nominal
			row = append(row, valueOf(r))
		}
		t.columns(fmt.Sprintf("%s (%s - %s)", g[0].What, mark(g[0].From), mark(g[0].To)), narrow, append(row, valueOf(amps[i][0]))...)
	}
}
