package rehearse

import (
	"fmt"
	"io"
	"strings"

	"halfsplit/flows/circuit"
)

// Score sums up results.
type Score struct {
	Jobs          int     `json:"jobs"`
	Right         int     `json:"right"`
	Wrong         int     `json:"confident_wrong"`
	WrongBound    float64 `json:"confident_wrong_upper_95"`
	Silent        int     `json:"silent_wrong"`
	HandedOut     int     `json:"handed_over_or_unresolved"`
	NoEnd         int     `json:"no_end"`
	Group         float64 `json:"mean_group"`
	Readings      float64 `json:"median_readings"`
	Lifts         float64 `json:"median_lifts"`
	Covers        float64 `json:"median_covers"`
	Messages      float64 `json:"median_messages"`
	Minutes       float64 `json:"mean_minutes"`
	SwitchOns     int     `json:"switch_ons_before_cause"`
	Misreads      int     `json:"wrong_readings"`
	MisfitClean   int     `json:"does_not_fit_without_misreading"`
	Clean         int     `json:"jobs_without_misreading"`
	PartRight     int     `json:"part_by_part_right"`
	PartMinutes   float64 `json:"part_by_part_mean_minutes"`
	PartReadings  float64 `json:"part_by_part_median_readings"`
	HalfRight     int     `json:"half_split_right"`
	HalfMinutes   float64 `json:"half_split_mean_minutes"`
	HalfReadings  float64 `json:"half_split_median_readings"`
	HalfSaved     float64 `json:"half_split_mean_minutes_saved"`
	HalfSavedErr  float64 `json:"half_split_mean_minutes_saved_half_interval_95"`
	HalfRatio     float64 `json:"half_split_minutes_ratio"`
	HalfFewer     float64 `json:"half_split_mean_readings_saved"`
	HalfFewerErr  float64 `json:"half_split_mean_readings_saved_half_interval_95"`
	Difference    float64 `json:"mean_minutes_saved"`
	DifferenceErr float64 `json:"mean_minutes_saved_half_interval_95"`
	Ratio         float64 `json:"minutes_ratio"`
	Unsafe        int     `json:"unsafe_prompts"`
	Lost          int     `json:"lost_readings"`
	Nags          int     `json:"same_words_three_times"`
	Paused        int     `json:"paused"`
	Talk          Talk    `json:"talk"`
}

// Sum scores a set of results.
func Sum(results []Result) Score {
	s := Score{Jobs: len(results)}
	var readings, lifts, covers, messages, minutes, part, partReadings, diff []float64
	var half, halfReadings, halfSaved, halfFewer []float64
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
	_, err := io.WriteString(w, b.String())
	return err
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
`, s.Minutes, s.PartMinutes, share(s.PartRight, s.Jobs), s.Difference, s.DifferenceErr, s.Ratio,
		s.HalfMinutes, s.HalfReadings, share(s.HalfRight, s.Jobs), s.HalfSaved, s.HalfSavedErr, s.HalfRatio, s.HalfFewer, s.HalfFewerErr)
}
