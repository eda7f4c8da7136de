package rehearse

import (
	"cmp"
	"fmt"
	"io"
	"strings"

	"halfsplit/flows/circuit"
)

// Score sums up results.
type Score struct {
	Jobs         int     `json:"jobs"`
	Right        int     `json:"right"`
	Wrong        int     `json:"confident_wrong"`
	WrongBound   float64 `json:"confident_wrong_upper_95"`
	Silent       int     `json:"silent_wrong"`
	HandedOut    int     `json:"handed_over_or_unresolved"`
	NoEnd        int     `json:"no_end"`
	Group        float64 `json:"mean_group"`
	Readings     float64 `json:"median_readings"`
	Lifts        float64 `json:"median_lifts"`
	Covers       float64 `json:"median_covers"`
	Messages     float64 `json:"median_messages"`
	Minutes      float64 `json:"mean_minutes"`
	SwitchOns    int     `json:"switch_ons_before_cause"`
	Misreads     int     `json:"wrong_readings"`
	MisfitClean  int     `json:"does_not_fit_without_misreading"`
	Clean        int     `json:"jobs_without_misreading"`
	PartRight    int     `json:"part_by_part_right"`
	PartMinutes  float64 `json:"part_by_part_mean_minutes"`
	PartReadings float64 `json:"part_by_part_median_readings"`
	HalfRight    int     `json:"half_split_right"`
	HalfMinutes  float64 `json:"half_split_mean_minutes"`
	HalfReadings float64 `json:"half_split_median_readings"`
	HalfSaved    float64 `json:"half_split_mean_minutes_saved"`
	HalfSavedErr float64 `json:"half_split_mean_minutes_saved_half_interval_95"`
	HalfRatio    float64 `json:"half_split_minutes_ratio"`
	HalfFewer    float64 `json:"half_split_mean_readings_saved"`
	HalfFewerErr float64 `json:"half_split_mean_readings_saved_half_interval_95"`
	// Outside the dialog, by the choice of reading alone.
	Engine         float64 `json:"engine_mean_minutes"`
	EngineReadings float64 `json:"engine_median_readings"`
	EngineSaved    float64 `json:"engine_mean_minutes_saved_over_half_split"`
	EngineSavedErr float64 `json:"engine_mean_minutes_saved_over_half_split_half_interval_95"`
	EngineFewer    float64 `json:"engine_mean_readings_saved_over_half_split"`
	EngineFewerErr float64 `json:"engine_mean_readings_saved_over_half_split_half_interval_95"`
	Difference     float64 `json:"mean_minutes_saved"`
	DifferenceErr  float64 `json:"mean_minutes_saved_half_interval_95"`
	Ratio          float64 `json:"minutes_ratio"`
	Unsafe         int     `json:"unsafe_prompts"`
	Lost           int     `json:"lost_readings"`
	Nags           int     `json:"same_words_three_times"`
	Paused         int     `json:"paused"`
	Talk           Talk    `json:"talk"`
}

// Sum scores a set of results.
func Sum(results []Result) Score {
	s := Score{Jobs: len(results)}
	var readings, lifts, covers, messages, minutes, part, partReadings, diff []float64
	var half, halfReadings, halfSaved, halfFewer, engine, engineReadings, engineSaved, engineFewer []float64
	groups, said := 0, 0
	for _, r := range results {
		count := func(b bool, n *int) {
			if b {
				*n++
			}
		}
		count(r.Right, &s.Right)
		count(r.Wrong, &s.Wrong)
		count(r.Silent, &s.Silent)
		count(r.HandedOut && !r.Right && !r.Wrong, &s.HandedOut)
		count(r.NoEnd, &s.NoEnd)
		count(r.PartRight, &s.PartRight)
		count(r.Misread == 0, &s.Clean)
		count(r.Misread == 0 && r.Misfit, &s.MisfitClean)
		if r.Verdict != nil {
			groups += r.Group
			said++
		}
		s.SwitchOns += r.SwitchOns
		s.Misreads += r.Misread
		readings = append(readings, float64(r.Readings))
		lifts = append(lifts, float64(r.Lifts))
		covers = append(covers, float64(r.Covers))
		messages = append(messages, float64(r.Messages))
		minutes = append(minutes, r.Minutes)
		part = append(part, r.Baseline.Minutes)
		partReadings = append(partReadings, float64(r.Baseline.Readings))
		diff = append(diff, r.Baseline.Minutes-r.Minutes)
		count(r.HalfRight, &s.HalfRight)
		count(r.Paused, &s.Paused)
		half = append(half, r.Half.Minutes)
		halfReadings = append(halfReadings, float64(r.Half.Readings))
		halfSaved = append(halfSaved, r.Half.Minutes-r.Minutes)
		halfFewer = append(halfFewer, float64(r.Half.Readings-r.Readings))
		engine = append(engine, r.Engine.Minutes)
		engineReadings = append(engineReadings, float64(r.Engine.Readings))
		engineSaved = append(engineSaved, r.Half.Minutes-r.Engine.Minutes)
		engineFewer = append(engineFewer, float64(r.Half.Readings-r.Engine.Readings))
		s.Unsafe += len(r.Watch.Unsafe)
		s.Lost += len(r.Watch.Lost)
		s.Nags += len(r.Watch.Nags)
		s.Talk = s.Talk.plus(r.Talk)
	}
	s.WrongBound = UpperBound(s.Wrong, s.Jobs)
	s.Readings, s.Lifts, s.Covers, s.Messages = median(readings), median(lifts), median(covers), median(messages)
	s.PartReadings = median(partReadings)
	s.Minutes, _ = mean(minutes)
	s.PartMinutes, _ = mean(part)
	s.Difference, s.DifferenceErr = mean(diff)
	s.HalfReadings = median(halfReadings)
	s.HalfMinutes, _ = mean(half)
	s.HalfSaved, s.HalfSavedErr = mean(halfSaved)
	s.HalfFewer, s.HalfFewerErr = mean(halfFewer)
	s.Engine, _ = mean(engine)
	s.EngineReadings = median(engineReadings)
	s.EngineSaved, s.EngineSavedErr = mean(engineSaved)
	s.EngineFewer, s.EngineFewerErr = mean(engineFewer)
	if s.HalfMinutes > 0 {
		s.HalfRatio = s.Minutes / s.HalfMinutes
	}
	if s.PartMinutes > 0 {
		s.Ratio = s.Minutes / s.PartMinutes
	}
	if said > 0 {
		s.Group = float64(groups) / float64(said)
	}
	return s
}

// FaultScore is the score of one fault.
type FaultScore struct {
	Fault string `json:"fault"`
	Score
}

// ByFault scores each fault on its own, in the order in which they first come.
func ByFault(u *circuit.Unit, results []Result) []FaultScore {
	var order []circuit.Fault
	of := make(map[circuit.Fault][]Result)
	for _, r := range results {
		if _, ok := of[r.Fault]; !ok {
			order = append(order, r.Fault)
		}
		of[r.Fault] = append(of[r.Fault], r)
	}
	out := make([]FaultScore, len(order))
	for i, f := range order {
		out[i] = FaultScore{Fault: f.Name(u), Score: Sum(of[f])}
	}
	return out
}

// Print writes the scores as text, one fault a line, then the total.
func Print(w io.Writer, u *circuit.Unit, results []Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d jobs\n\n", u.Name, len(results))
	fmt.Fprintf(&b, "%-52s %5s %5s %5s %6s %6s %8s %5s %6s %8s %8s %8s\n",
		"fault", "jobs", "right", "wrong", "silent", "handed", "readings", "lifts", "covers", "minutes", "by part", "by half")
	for _, f := range ByFault(u, results) {
		fmt.Fprintf(&b, "%-52s %5d %5d %5d %6d %6d %8.1f %5.1f %6.1f %8.1f %8.1f %8.1f\n",
			cut(f.Fault, 52), f.Jobs, f.Right, f.Wrong, f.Silent, f.HandedOut, f.Readings, f.Lifts, f.Covers, f.Minutes, f.PartMinutes, f.HalfMinutes)
	}
	b.WriteByte('\n')
	total(&b, Sum(results))
	remarks(&b, u, results)
	_, err := io.WriteString(w, b.String())
	return err
}

// ByClass scores each class of RunUnknown, in order.
func ByClass(results []Result) []FaultScore {
	var out []FaultScore
	for _, class := range unmodelledOnes() {
		var of []Result
		for _, r := range results {
			if r.Class == class.name {
				of = append(of, r)
			}
		}
		if len(of) > 0 {
			out = append(out, FaultScore{Fault: class.name, Score: Sum(of)})
		}
	}
	return out
}

// PrintUnknown writes the scores of RunUnknown, one class a line, then the total.
func PrintUnknown(w io.Writer, u *circuit.Unit, results []Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %d jobs otherwise than the file says\n\n", u.Name, len(results))
	fmt.Fprintf(&b, "%-42s %5s %5s %6s %5s %6s %6s %8s %8s\n", "class", "jobs", "found", "handed", "wrong", "silent", "no end", "readings", "messages")
	for _, f := range append(ByClass(results), FaultScore{Fault: "total", Score: Sum(results)}) {
		fmt.Fprintf(&b, "%-42s %5d %5d %6d %5d %6d %6d %8.1f %8.1f\n",
			cut(f.Fault, 42), f.Jobs, f.Right, f.HandedOut, f.Wrong, f.Silent, f.NoEnd, f.Readings, f.Messages)
	}
	s := Sum(results)
	fmt.Fprintf(&b, "\nfound or handed over         %s\nconvicted wrongly            %s\nunsafe questions             %d\n",
		share(s.Right+s.HandedOut, s.Jobs), share(s.Wrong, s.Jobs), s.Unsafe)
	remarks(&b, u, results)
	_, err := io.WriteString(w, b.String())
	return err
}

// PrintUnits writes one line for each of several units, and which is the worst: most
// wrong verdicts, then fewest right.
func PrintUnits(w io.Writer, list []*circuit.Unit, scores []Score) error {
	var b strings.Builder
	fmt.Fprintf(&b, "\n%-44s %5s %5s %5s %8s %6s %6s %8s %8s %8s\n", "unit", "parts", "jobs", "right", "wrong", "silent", "handed", "readings", "minutes", "by half")
	worst, all, wrong := 0, 0, 0
	of := func(n int, s Score) float64 { return float64(n) / float64(max(1, s.Jobs)) }
	for i, s := range scores {
		fmt.Fprintf(&b, "%-44s %5d %5d %5d %8d %6d %6d %8.1f %8.1f %8.1f\n",
			cut(list[i].Name, 44), len(list[i].Parts), s.Jobs, s.Right, s.Wrong, s.Silent, s.HandedOut, s.Readings, s.Minutes, s.HalfMinutes)
		all, wrong = all+s.Jobs, wrong+s.Wrong
		at := scores[worst]
		if a, b := of(s.Wrong, s), of(at.Wrong, at); a > b || a == b && of(s.Right, s) < of(at.Right, at) {
			worst = i
		}
	}
	s := scores[worst]
	fmt.Fprintf(&b, "\nworst unit                   %s: wrong %s, 95 %% bound %.2f %%; right %s\n", list[worst].Name, share(s.Wrong, s.Jobs), 100*s.WrongBound, share(s.Right, s.Jobs))
	fmt.Fprintf(&b, "all units                    wrong %s, 95 %% bound %.2f %%\n", share(wrong, all), 100*UpperBound(wrong, all))
	_, err := io.WriteString(w, b.String())
	return err
}

// remarksMost bounds how many remarks are printed.
const remarksMost = 12

// Remarks are what must never happen, and wrong verdicts, one line each.
func Remarks(u *circuit.Unit, results []Result) []string {
	out := []string{}
	for _, r := range results {
		name := cmp.Or(r.Name, "no fault")
		if r.Class != "" {
			name = r.Class + ", " + name
		}
		add := func(what string, list []string) {
			for _, x := range list {
				out = append(out, name+": "+what+": "+cut(strings.ReplaceAll(x, "\n", " / "), 200))
			}
		}
		if r.Wrong {
			add("convicted", []string{r.Verdict.Name(u)})
		}
		if r.Silent {
			add("closed as repaired with", r.Left)
		}
		if r.NoEnd {
			add("no end", []string{r.Why})
		}
		add("unsafe", r.Watch.Unsafe)
		add("lost", r.Watch.Lost)
		add("three times the same", r.Watch.Nags)
	}
	return out
}

func remarks(b *strings.Builder, u *circuit.Unit, results []Result) {
	list := Remarks(u, results)
	for i, x := range list {
		if i == 0 {
			b.WriteByte('\n')
		}
		if i == remarksMost {
			fmt.Fprintf(b, "and %d more\n", len(list)-i)
			return
		}
		b.WriteString(x + "\n")
	}
}

// cut is a text of at most n characters.
func cut(text string, n int) string {
	if r := []rune(text); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return text
}

func share(n, of int) string {
	if of == 0 {
		return "0 of 0"
	}
	return fmt.Sprintf("%d of %d (%.2f %%)", n, of, 100*float64(n)/float64(of))
}

// total writes the sums. Comparisons are left out if they were not run.
func total(b *strings.Builder, s Score) {
	fmt.Fprintf(b, `right item or group          %s, mean group %.2f items
confident-wrong              %s, 95 %% bound %.2f %%
silent-wrong                 %s
handed over or unresolved    %s
jobs without an end          %d
switch-ons before the cause  %d
"does not fit", no misread   %s; %d readings were wrong
median to the verdict        %.1f readings, %.1f lifts, %.1f covers
median of the whole job      %.1f messages
unsafe questions             %d
`,
		share(s.Right, s.Jobs), s.Group, share(s.Wrong, s.Jobs), 100*s.WrongBound, share(s.Silent, s.Jobs), share(s.HandedOut, s.Jobs), s.NoEnd,
		s.SwitchOns, share(s.MisfitClean, s.Clean), s.Misreads,
		s.Readings, s.Lifts, s.Covers, s.Messages, s.Unsafe)
	if s.Talk != (Talk{}) {
		fmt.Fprintf(b, `readings lost                %d of %d typed
same words three times       %d
cannot                       %d
late, doubled, out of order  %d
why, where, repeat           %d
unasked switch-ons           %d
pauses                       %d, in %d jobs for good
`, s.Lost, s.Talk.Typed, s.Nags, s.Talk.Cannot, s.Talk.Late, s.Talk.Asked, s.Talk.Unasked, s.Talk.Pauses, s.Paused)
	}
	if s.PartMinutes == 0 {
		fmt.Fprintf(b, "minutes to the verdict       %.1f\n", s.Minutes)
		return
	}
	fmt.Fprintf(b, `minutes to the verdict       %.1f
part by part                 %.1f minutes, right in %s
  minutes saved, paired      %.1f ± %.1f (95 %%); ratio %.3f
half-split by count          %.1f minutes, %.1f readings (median), right in %s
  minutes saved, paired      %.1f ± %.1f (95 %%); ratio %.3f
  readings saved, paired     %.2f ± %.2f (95 %%)
the same without the dialog  %.1f minutes, %.1f readings (median)
  minutes saved over half    %.1f ± %.1f (95 %%)
  readings saved over half   %.2f ± %.2f (95 %%)
`, s.Minutes, s.PartMinutes, share(s.PartRight, s.Jobs), s.Difference, s.DifferenceErr, s.Ratio,
		s.HalfMinutes, s.HalfReadings, share(s.HalfRight, s.Jobs), s.HalfSaved, s.HalfSavedErr, s.HalfRatio, s.HalfFewer, s.HalfFewerErr,
		s.Engine, s.EngineReadings, s.EngineSaved, s.EngineSavedErr, s.EngineFewer, s.EngineFewerErr)
}
