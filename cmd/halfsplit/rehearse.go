package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"runtime"
	"strconv"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/rehearse"
	"halfsplit/testdata/units"
)

// rehearseUnits runs every fault of each unit through the dialog with a simulated
// technician. It fails if the upper bound of confident-wrong verdicts is above the
// limit, or if any job was closed with the fault still in.
func rehearseUnits(ctx context.Context, p program, args []string) error {
	fs := flag.NewFlagSet("rehearse", flag.ContinueOnError)
	seeds := fs.String("seed", "1", "")
	each := fs.Int("each", 3, "")
	misread := fs.Float64("misread", 0, "")
	faults := fs.String("faults", "", "")
	asJSON := fs.Bool("json", false, "")
	maxWrong := fs.Float64("max-wrong", 0.01, "")
	workers := fs.Int("workers", runtime.NumCPU(), "")
	names, err := parse(fs, args, -1)
	if err != nil {
		return err
	}
	if len(names) == 0 {
		return &usageError{"halfsplit rehearse: name a unit of the library or a unit file. Try: halfsplit units"}
	}
	if *misread < 0 || *misread >= 1 || *each < 1 {
		return &usageError{"halfsplit rehearse: --misread is a share from 0 to below 1, --each a number of jobs from 1"}
	}
	list, err := seedList(*seeds)
	if err != nil {
		return err
	}
	var failed []string
	for _, name := range names {
		u, err := unitNamed(name)
		if err != nil {
			return err
		}
		step := 0
		results, err := rehearse.Run(rehearse.Config{
			Unit: u, Seeds: list, Each: *each, Misread: *misread, Faults: *faults, Workers: *workers, Stop: ctx.Err,
			Progress: func(done, of int) {
				if now := 20 * done / of; now != step {
					step = now
					fmt.Fprintf(p.err, "%s: %d of %d jobs\n", u.Name, done, of)
				}
			},
		})
		if err != nil {
			if errors.Is(err, context.Canceled) {
				return &plainError{"Stopped before the end; nothing is reported."}
			}
			return err
		}
		if len(results) == 0 {
			return &plainError{fmt.Sprintf("No fault of %s fits %q and makes the breaker go at once.", u.Name, *faults)}
		}
		score := rehearse.Sum(results)
		if *asJSON {
			enc := json.NewEncoder(p.out)
			enc.SetIndent("", "  ")
			err = enc.Encode(struct {
				Unit   string                `json:"unit"`
				Total  rehearse.Score        `json:"total"`
				Faults []rehearse.FaultScore `json:"faults"`
			}{u.Name, score, rehearse.ByFault(u, results)})
		} else {
			err = rehearse.Print(p.out, u, results)
		}
		if err != nil {
			return err
		}
		switch {
		case score.Silent > 0:
			failed = append(failed, fmt.Sprintf("%s: %d jobs closed with the fault still in", u.Name, score.Silent))
		case score.NoEnd > 0:
			failed = append(failed, fmt.Sprintf("%s: %d jobs without an end", u.Name, score.NoEnd))
		case float64(score.Wrong) > *maxWrong*float64(score.Jobs):
			failed = append(failed, fmt.Sprintf("%s: %d of %d verdicts wrong, more than %.2f %%", u.Name, score.Wrong, score.Jobs, 100**maxWrong))
		}
	}
	if len(failed) > 0 {
		return &plainError{strings.Join(failed, "\n")}
	}
	return nil
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
