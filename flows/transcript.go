package flows

import (
	"fmt"
	"strings"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
)

// Logged is an event of a trail with when and from whom it came.
type Logged struct {
	Seq   int
	At    int64 // ms UTC
	By    PersonID
	Event Event
}

// Transcript is a whole job as Markdown: per step what was heard, what was asked and
// what it was worth against its rivals, what was read, what was held, what was said. u
// may be nil if the unit was never known.
func Transcript(u *circuit.Unit, recs ...Logged) string {
	var b strings.Builder
	b.WriteString("# Trail\n")
	start := int64(0)
	if len(recs) > 0 {
		start = recs[0].At
	}
	for _, r := range recs {
		if text := logged(u, r); text != "" {
			fmt.Fprintf(&b, "\n`%d` `%s` %s\n", r.Seq, clock(r.At-start), text)
		}
	}
	return b.String()
}

// clock is the time since the job began: "3:07".
func clock(ms int64) string {
	sec := ms / 1000
	return fmt.Sprintf("%d:%02d", sec/60, sec%60)
}

func logged(u *circuit.Unit, r Logged) string {
	switch e := r.Event.(type) {
	case Heard:
		said := e.Text
		if e.Choice != "" {
			said = "[" + e.Choice + "]"
		}
		if e.Photo != "" {
			said += " (photo)"
		}
		return "**" + string(r.By) + ":** " + quoteLines(said)
	case Opened:
		name := "unit"
		if u != nil {
			name = u.Name
		}
		return fmt.Sprintf("Opened: %s, policy %s, engine %s, safety table %s.", name, e.Policy.Version, e.Engine, e.Safety)
	case Told:
		return "Told: " + e.What + " = " + quoteLines(e.Value)
	case Asked:
		return askedText(u, e)
	case Read:
		if u == nil {
			return "Read: " + e.Got.String()
		}
		how := "Read"
		if e.Prompt == 0 {
			how = "Read, volunteered"
		}
		return how + ": " + testShort(u, e.Test) + " = **" + e.Got.String() + "** (typed " + quoteLines(e.Got.Text) + "), off then: " + offOrNothing(u, e.Test.In)
	case Corrected:
		return fmt.Sprintf("Took reading %d back: %s", e.Seq, quoteLines(e.Why))
	case Did:
		if u == nil {
			return ""
		}
		return "Did: " + actName(u, e.Act)
	case Moved:
		text := fmt.Sprintf("*%s → %s* on %s", e.From, e.To, e.On)
		if e.Sets != 0 {
			text += ", sets " + e.Sets.String()
		}
		if e.Drops != 0 {
			text += ", drops " + e.Drops.String()
		}
		return text
	case Refused:
		text := "Not done"
		if e.On != "" {
			text = "Refused: " + string(e.On)
		}
		if e.Lack != 0 {
			text += ", lacks " + e.Lack.String()
		}
		if e.Why != "" {
			text += ": " + quoteLines(e.Why)
		}
		return text
	case Said:
		return "**bot:**\n\n> " + strings.ReplaceAll(e.Text, "\n", "\n> ")
	case Judged:
		return judgedText(u, e)
	case Led:
		return "Leads: " + string(e.Who) + " " + e.Mode
	case Noted:
		return "Note: " + quoteLines(e.Text+e.Blob)
	case Timed:
		return "Timer: " + e.Name
	case Failed:
		return "Failed: " + e.Code
	case Closed:
		text := "Closed: " + e.Outcome
		if u != nil && len(e.Off) > 0 {
			text += ", off: " + endsNamed(u, e.Off)
		}
		return text
	}
	return ""
}

func quoteLines(text string) string { return strings.Join(strings.Fields(text), " ") }

func askedText(u *circuit.Unit, e Asked) string {
	text := "Asked " + string(e.Prompt.Ask)
	if u != nil {
		var list []string
		for _, a := range e.Prompt.Acts {
			list = append(list, actName(u, a))
		}
		for _, t := range e.Prompt.Tests {
			list = append(list, testShort(u, t))
		}
		if len(list) > 0 {
			text += ": " + strings.Join(list, "; ")
		}
	}
	if e.Cost > 0 {
		text += fmt.Sprintf(" (worth %.2f bits in %.1f min)", e.Worth, e.Cost)
	}
	for _, r := range e.Rivals {
		text += "\n  - instead: " + rivalText(u, r)
	}
	return text
}

// rivalText names the points of a rival by the two numbers with which its keys begin.
func rivalText(u *circuit.Unit, r isolate.Rival) string {
	var names []string
	for _, key := range r.Keys {
		var a, b int
		if _, err := fmt.Sscanf(key, "%d-%d|", &a, &b); err != nil || u == nil {
			names = append(names, key)
			continue
		}
		names = append(names, nodeShort(u, circuit.Node(a))+" to "+nodeShort(u, circuit.Node(b)))
	}
	return fmt.Sprintf("%s, %.2f bits in %.1f min", strings.Join(names, "; "), r.Gain, r.Minutes)
}

func judgedText(u *circuit.Unit, e Judged) string {
	if u == nil {
		return ""
	}
	var list []string
	for i, it := range e.Items {
		if i == 5 {
			break
		}
		list = append(list, fmt.Sprintf("%s %.1f %%", it.Fault.Name(u), float64(it.PerMille)/10))
	}
	text := fmt.Sprintf("Held: %s; not in this file %.1f %%; %d cleared, %d left", strings.Join(list, ", "), float64(e.Unknown)/10, len(e.Cleared), len(e.Left))
	if len(e.Misfit) > 0 {
		text += fmt.Sprintf("; does not fit: %v", e.Misfit)
	}
	return text
}
