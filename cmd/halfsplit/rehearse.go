package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"runtime"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/rehearse"
	"halfsplit/testdata/unitgen"
	"halfsplit/testdata/units"
)

// rehearsal is the command line of rehearse.
type rehearsal struct {
	config    rehearse.Config
	seeds     string
	unknown   bool
	complaint string
	generated int
	asJSON    bool
	maxWrong  float64
}

// rehearseFlags are the options, with their defaults.
func rehearseFlags(r *rehearsal) *flag.FlagSet {
	fs := flag.NewFlagSet("rehearse", flag.ContinueOnError)
	fs.StringVar(&r.seeds, "seed", "1", "seeds of chance: `LIST` such as 1 or 1,2,3 or 1-5")
	fs.IntVar(&r.config.Each, "each", 3, "`JOBS` for each fault and seed; with --unknown for each class and seed")
	fs.IntVar(&r.config.Most, "jobs", 0, "at most so many `JOBS`, spread evenly over the faults; 0: all")
	fs.Float64Var(&r.config.Misread, "misread", 0, "`SHARE` of readings that are wrong; with --clumsy 0.05 unless given")
	fs.StringVar(&r.config.Faults, "faults", "", "only faults whose name holds `TEXT`")
	fs.StringVar(&r.complaint, "complaint", "trips", "`KIND` of complaint: trips (at once) or dead (a part does not work)")
	fs.BoolVar(&r.config.Clumsy, "clumsy", false, "a technician who misreads, cannot reach, asks back, answers late and types as it comes")
	fs.BoolVar(&r.unknown, "unknown", false, "units and technicians otherwise than the file says, by class")
	fs.BoolVar(&r.config.Silent, "alone", false, "without part by part and half-split, which are compared over the same truths")
	fs.BoolVar(&r.config.Outside, "outside", false, "readings and verdict without the dialog around them")
	fs.IntVar(&r.generated, "generated", 0, "so many invented `UNITS`, seeds 1 and up, besides those named")
	fs.BoolVar(&r.asJSON, "json", false, "write the scores as JSON")
	fs.Float64Var(&r.maxWrong, "max-wrong", 0.01, "fail above this `SHARE` of wrong verdicts")
	fs.IntVar(&r.config.Workers, "workers", runtime.NumCPU(), "`JOBS` at a time; the outcome does not depend on it")
	return fs
}

// rehearseHelp prints the options.
func rehearseHelp(w io.Writer, fs *flag.FlagSet) {
	fmt.Fprint(w, "halfsplit rehearse [OPTIONS] UNIT...\n\n"+
		"Runs every fault of a unit through the dialog with a simulated technician and meter, and\n"+
		"counts how it ends. UNIT is a name of the library or the path of a unit file.\n\n")
	fs.SetOutput(w)
	fs.PrintDefaults()
	fs.SetOutput(io.Discard)
	fmt.Fprint(w, "\nIt fails on more wrong verdicts than --max-wrong (0.02 with --unknown), on a job closed as\n"+
		"repaired that is not, a job without an end, a question that was not safe to put, or a reading lost.\n")
}

// rehearseUnits runs every fault of each unit through the dialog with a simulated
// technician. It fails on what rehearseHelp names.
func rehearseUnits(ctx context.Context, p program, args []string) error {
	var r rehearsal
	fs := rehearseFlags(&r)
	for _, a := range args {
		if a == "-h" || a == "-help" || a == "--help" {
			rehearseHelp(p.out, fs)
			return nil
		}
	}
	names, err := parse(fs, args, -1)
	if err != nil {
		return err
	}
	given := map[string]bool{}
	fs.Visit(func(f *flag.Flag) { given[f.Name] = true })
	if len(names) == 0 && r.generated == 0 {
		return &usageError{"halfsplit rehearse: name a unit of the library or a unit file. Try: halfsplit units"}
	}
	c := &r.config
	if c.Misread < 0 || c.Misread >= 1 || c.Each < 1 || c.Most < 0 || r.generated < 0 {
		return &usageError{"halfsplit rehearse: --misread is a share from 0 to below 1, --each a number of jobs from 1, --jobs and --generated numbers from 0"}
	}
	switch r.complaint {
	case "trips":
		c.Complaint = isolate.TripsAtOnce
	case "dead":
		c.Complaint = isolate.DoesNotWork
	default:
		return &usageError{fmt.Sprintf("halfsplit rehearse: --complaint is trips or dead, not %q", r.complaint)}
	}
	if r.unknown && (c.Clumsy || c.Complaint != isolate.TripsAtOnce || c.Outside) {
		return &usageError{"halfsplit rehearse: --unknown goes with neither --clumsy nor --complaint nor --outside"}
	}
	if c.Clumsy && !given["misread"] {
		c.Misread = 0.05
	}
	if r.unknown && !given["max-wrong"] {
		r.maxWrong = 0.02
	}
	if c.Seeds, err = seedList(r.seeds); err != nil {
		return err
	}
	c.Silent = c.Silent || c.Clumsy || r.unknown
	c.Stop = ctx.Err
	var list []*circuit.Unit
	for _, name := range names {
		u, err := unitNamed(name)
		if err != nil {
			return err
		}
		list = append(list, u)
	}
	for seed := range r.generated {
		file := fmt.Sprintf("invented-%d.yaml", seed+1)
		u, err := parseUnit(file, []byte(unitgen.Text(uint64(seed+1))))
		if err != nil {
			return err
		}
		list = append(list, u)
	}
	var failed []string
	var scores []rehearse.Score
	for _, u := range list {
		score, why, err := r.one(p, u)
		if err != nil {
			return err
		}
		failed = append(failed, why...)
		scores = append(scores, score)
	}
	if len(list) > 1 && !r.asJSON {
		if err := rehearse.PrintUnits(p.out, list, scores); err != nil {
			return err
		}
	}
	if len(failed) > 0 {
		return &plainError{strings.Join(failed, "\n")}
	}
	return nil
}

// one rehearses one unit and prints its scores. Why says what failed.
func (r *rehearsal) one(p program, u *circuit.Unit) (score rehearse.Score, why []string, err error) {
	c := r.config
	c.Unit = u
	step := 0
	c.Progress = func(done, of int) {
		if now := 20 * done / of; now != step {
			step = now
			fmt.Fprintf(p.err, "%s: %d of %d jobs\n", u.Name, done, of)
		}
	}
	run := rehearse.Run
	if r.unknown {
		run = rehearse.RunUnknown
	}
	results, err := run(c)
	switch {
	case errors.Is(err, context.Canceled):
		return score, nil, &plainError{"Stopped before the end; nothing is reported."}
	case err != nil:
		return score, nil, err
	case len(results) == 0:
		return score, nil, &plainError{fmt.Sprintf("No fault of %s fits %q and brings about the complaint.", u.Name, c.Faults)}
	}
	score = rehearse.Sum(results)
	groups, show := rehearse.ByFault(u, results), rehearse.Print
	if r.unknown {
		groups, show = rehearse.ByClass(results), rehearse.PrintUnknown
	}
	if r.asJSON {
		enc := json.NewEncoder(p.out)
		enc.SetIndent("", "  ")
		err = enc.Encode(struct {
			Unit   string                `json:"unit"`
			Total  rehearse.Score        `json:"total"`
			Faults []rehearse.FaultScore `json:"faults"`
			Remark []string              `json:"remarks"`
		}{u.Name, score, groups, rehearse.Remarks(u, results)})
	} else {
		err = show(p.out, u, results)
	}
	fail := func(n int, what string) {
		if n > 0 {
			why = append(why, fmt.Sprintf("%s: %d %s", u.Name, n, what))
		}
	}
	fail(score.Silent, "jobs closed as repaired that are not")
	fail(score.NoEnd, "jobs without an end")
	fail(score.Unsafe, "questions that were not safe to put")
	fail(score.Lost, "readings lost")
	if float64(score.Wrong) > r.maxWrong*float64(score.Jobs) {
		why = append(why, fmt.Sprintf("%s: %d of %d verdicts wrong, more than %.2f %%", u.Name, score.Wrong, score.Jobs, 100*r.maxWrong))
	}
	return score, why, err
}

// seedList reads "1" or "1,2,3" or "1-5".
func seedList(text string) ([]uint64, error) {
	var out []uint64
	for _, piece := range strings.Split(text, ",") {
		from, to, span := strings.Cut(strings.TrimSpace(piece), "-")
		a, err := strconv.ParseUint(from, 10, 32)
		b := a
		if err == nil && span {
			b, err = strconv.ParseUint(to, 10, 32)
		}
		if err != nil || b < a || b-a > 1000 {
			return nil, &usageError{fmt.Sprintf("halfsplit rehearse: --seed takes whole numbers such as 1 or 1,2,3 or 1-5, not %q", text)}
		}
		for s := a; s <= b; s++ {
			out = append(out, s)
		}
	}
	return out, nil
}

// unitNamed returns a unit of the library by file name, with or without its ending, or
// reads a unit file.
func unitNamed(name string) (*circuit.Unit, error) {
	lib, err := units.Library()
	if err != nil {
		return nil, err
	}
	file, src := name, []byte(nil)
	for _, f := range lib {
		if f.Name == name || strings.TrimSuffix(f.Name, ".yaml") == name {
			file, src = f.Name, f.Source
		}
	}
	if src == nil {
		if src, err = os.ReadFile(name); err != nil {
			return nil, &plainError{fmt.Sprintf("%q is neither a unit of the library nor a file that can be read. Try: halfsplit units", name)}
		}
	}
	return parseUnit(file, src)
}

// parseUnit reads a unit file; its problems are the error.
func parseUnit(file string, src []byte) (*circuit.Unit, error) {
	u, problems := circuit.Parse(file, src)
	if len(problems) > 0 {
		lines := make([]string, len(problems))
		for i, pr := range problems {
			lines[i] = pr.String()
		}
		return nil, &plainError{strings.Join(lines, "\n")}
	}
	return u, nil
}
