package flows

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/machine"
)

// Logged is an event of a trail with when and from whom it came.
type Logged struct {
	Seq   int
	At    int64 // ms UTC
	By    PersonID
	Event Event
}

// Transcript is a whole job as Markdown, for whoever reviews it: unit and complaint, date
// and people; then phase by phase and reading by reading what was heard and said, what was
// asked, what it was worth for its minutes against its rivals, what was read, what that
// meant on this circuit, what was held before and after, and which gates let the job by or
// did not; at the end the report. u may be nil if the unit was never known.
func Transcript(u *circuit.Unit, recs ...Logged) string {
	d := &document{u: u, recs: recs}
	d.head()
	for i := range recs {
		d.record(i)
	}
	d.report()
	return strings.TrimSpace(d.b.String()) + "\n"
}

// document is a transcript being written.
type document struct {
	u     *circuit.Unit
	recs  []Logged
	b     strings.Builder
	names map[PersonID]string
	at    machine.State // of the section
	steps int
	held  *Judged // last
	reads int     // readings since something was said, to find what each meant
}

// job folds the trail as far as it folds.
func (d *document) job() (Job, error) {
	j := Start()
	for _, r := range d.recs {
		next, err := Apply(j, r.At, r.By, r.Event)
		if err != nil {
			return j, err
		}
		j = next
	}
	return j, nil
}

// head writes the title, the date and the people.
func (d *document) head() {
	d.names = make(map[PersonID]string)
	var people []string
	complaint, opened := "complaint not known", (*Opened)(nil)
	for _, r := range d.recs {
		switch e := r.Event.(type) {
		case Heard:
			if _, known := d.names[r.By]; known || r.By == "" {
				continue
			}
			name := e.Rights.Name
			if name == "" {
				name = string(r.By)
			}
			d.names[r.By] = name
			roles := make([]string, len(e.Rights.Roles))
			for i, role := range e.Rights.Roles {
				roles[i] = string(role)
			}
			if len(roles) > 0 {
				name += " (" + strings.Join(roles, ", ") + ")"
			}
			people = append(people, name)
		case Opened:
			opened = &e
		case Told:
			if e.What == "complaint" {
				complaint = e.Value
			}
		}
	}
	name := "Unit not known"
	if d.u != nil {
		name = d.u.Name
	}
	fmt.Fprintf(&d.b, "# %s: %s\n\n", name, complaint)
	if len(d.recs) > 0 {
		first, last := d.recs[0].At, d.recs[len(d.recs)-1].At
		fmt.Fprintf(&d.b, "%s UTC, %d min.", time.UnixMilli(first).UTC().Format("Monday 2 January 2006, 15:04"), (last-first+59_999)/60_000)
	}
	if len(people) > 0 {
		fmt.Fprintf(&d.b, " People: %s.", strings.Join(people, ", "))
	}
	if opened != nil {
		fmt.Fprintf(&d.b, "\nJudged by policy %s, engine %s, safety table %s.", opened.Policy.Version, opened.Engine, opened.Safety)
	}
	d.b.WriteString("\n")
	d.section(Intake)
}

// section begins a phase.
func (d *document) section(at machine.State) {
	if at == d.at {
		return
	}
	d.at = at
	fmt.Fprintf(&d.b, "\n## %s\n\n", capital(strings.ReplaceAll(string(at), "_", " ")))
}

func capital(text string) string {
	if text == "" {
		return text
	}
	return strings.ToUpper(text[:1]) + text[1:]
}

// line writes one line of a list.
func (d *document) line(format string, args ...any) {
	fmt.Fprintf(&d.b, "- "+format+"\n", args...)
}

func (d *document) record(i int) {
	r := d.recs[i]
	switch e := r.Event.(type) {
	case Heard:
		d.reads = 0
		said := e.Text
		if e.Choice != "" {
			said = "[" + e.Choice + "]"
		}
		if e.Photo != "" {
			said += " (photo)"
		}
		fmt.Fprintf(&d.b, "\n**%s** `%s` %s\n\n", d.names[r.By], time.UnixMilli(r.At).UTC().Format("15:04:05"), quoteLines(said))
	case Said:
		fmt.Fprintf(&d.b, "\n> %s\n\n", strings.ReplaceAll(e.Text, "\n", "\n> "))
	case Told:
		if text := toldText(d.u, e); text != "" {
			d.line("%s", text)
		}
	case Asked:
		d.asked(e)
	case Read:
		d.read(i, e)
	case Judged:
		d.judged(e)
	case Corrected:
		d.line("Taken back: reading %d. %s", e.Seq, quoteLines(e.Why))
	case Did:
		if d.u != nil {
			d.line("By hand: %s", actName(d.u, e.Act))
		}
	case Moved:
		d.moved(e)
	case Refused:
		d.line("%s", refusedText(e))
	case Led:
		d.line("At the unit now: %s", cmpName(d.names[e.Who], string(e.Who)))
	case Noted:
		d.line("Note: %s", quoteLines(e.Text+" "+e.Blob))
	case Timed:
		fmt.Fprintf(&d.b, "\n`%s` timer: %s\n\n", time.UnixMilli(r.At).UTC().Format("15:04:05"), strings.ReplaceAll(e.Name, "_", " "))
	case Failed:
		d.line("Could not be worked on: %s", e.Code)
	case Closed:
		text := "Closed: " + e.Outcome
		if d.u != nil && len(e.Off) > 0 {
			text += ", off: " + endsNamed(d.u, e.Off)
		}
		d.line("%s", text)
	}
}

func cmpName(name, otherwise string) string {
	if name == "" {
		return otherwise
	}
	return name
}

// asked writes a reading as a step of its own, with its worth and its rivals; other
// questions stand in what was said.
func (d *document) asked(e Asked) {
	if len(e.Prompt.Tests) == 0 || d.u == nil {
		return
	}
	d.steps++
	points := make([]string, len(e.Prompt.Tests))
	for i, t := range e.Prompt.Tests {
		points[i] = testShort(d.u, t)
	}
	fmt.Fprintf(&d.b, "\n### Step %d: %s\n\n", d.steps, strings.Join(points, "; "))
	var acts []string
	for _, a := range e.Prompt.Acts {
		acts = append(acts, actName(d.u, a))
	}
	if len(acts) > 0 {
		d.line("First: %s", strings.Join(acts, "; "))
	}
	switch {
	case e.Prompt.Repeat != 0:
		d.line("Why: reading %d again, since it does not fit", e.Prompt.Repeat)
	case e.Prompt.Honest:
		d.line("Why: the point before reads low in a sound unit too; here without that path")
	case e.Prompt.Target != nil:
		d.line("Why: direct test of %s", e.Prompt.Target.Name(d.u))
	}
	if e.Cost > 0 && e.Worth > 0 && e.Prompt.Target == nil {
		d.line("Worth: %.2f bits in %.1f min, %.2f a minute", e.Worth, e.Cost, e.Worth/e.Cost)
	}
	for _, r := range e.Rivals {
		d.line("Instead: %s", rivalText(d.u, r))
	}
}

// read writes a reading and what it meant, which is in what was said next.
func (d *document) read(i int, e Read) {
	if d.u == nil {
		d.line("Read: %s", e.Got)
		return
	}
	how := "Read"
	if e.Prompt == 0 {
		how = "Read, not asked for"
	}
	d.line("%s: %s = **%s** (typed %s), off then: %s", how, testShort(d.u, e.Test), e.Got, quoteLines(e.Got.Text), offOrNothing(d.u, e.Test.In))
	if meant := d.meanings(i); d.reads < len(meant) {
		d.line("Meant: %s", meant[d.reads])
	}
	d.reads++
}

// meanings are the sentences of the next message that say what readings mean.
func (d *document) meanings(i int) []string {
	for _, r := range d.recs[i:] {
		said, ok := r.Event.(Said)
		if !ok {
			if _, heard := r.Event.(Heard); heard {
				return nil
			}
			continue
		}
		var list []string
		for _, p := range append([]Phrase{{Code: said.Code, Args: said.Args}}, said.More...) {
			if strings.HasPrefix(string(p.Code), "mean.") {
				list = append(list, textOf(said.Lang, Message{Code: p.Code, Args: p.Args}))
			}
		}
		return list
	}
	return nil
}

// judged writes what was held before and after.
func (d *document) judged(e Judged) {
	if d.u == nil {
		return
	}
	if d.held != nil {
		d.line("Held before: %s", heldText(d.u, *d.held))
		d.line("Held after: %s", heldText(d.u, e))
	} else {
		d.line("Held at first: %s", heldText(d.u, e))
	}
	if len(e.Misfit) > 0 {
		d.line("Does not fit: readings %s", strings.Trim(fmt.Sprint(e.Misfit), "[]"))
	}
	d.held = &e
}

// heldText is a belief in names and per cent. A skeleton states none.
func heldText(u *circuit.Unit, e Judged) string {
	if u.Skeleton {
		return fmt.Sprintf("%d cleared, %d left", len(e.Cleared), len(e.Left))
	}
	var list []string
	for i, it := range e.Items {
		if i == 4 {
			break
		}
		list = append(list, fmt.Sprintf("%s %.1f %%", it.Fault.Name(u), float64(it.PerMille)/10))
	}
	return fmt.Sprintf("%s; not in this file %.1f %%; %d cleared, %d left", strings.Join(list, ", "), float64(e.Unknown)/10, len(e.Cleared), len(e.Left))
}

// moved writes a gate that let the job by, and begins a section where the phase changes.
func (d *document) moved(e Moved) {
	if e.From != e.To {
		d.section(e.To)
	}
	text := "Gate " + strings.ReplaceAll(string(e.On), "_", " ")
	if e.Sets != 0 {
		text += ": now known " + factsNamed(e.Sets)
	}
	if e.Drops != 0 {
		text += "; no longer holds " + factsNamed(e.Drops)
	}
	d.line("%s", text)
}

func refusedText(e Refused) string {
	text := "Cannot be done"
	if e.On != "" {
		text = "Gate " + strings.ReplaceAll(string(e.On), "_", " ") + " did not let it by"
	}
	if e.Lack != 0 {
		text += ", lacking " + factsNamed(e.Lack)
	}
	if e.Why != "" {
		text += ": " + quoteLines(e.Why)
	}
	return text
}

// toldText is an answer as a reviewer wants it; "" for what the dialog only keeps for
// itself.
func toldText(u *circuit.Unit, e Told) string {
	shown := []string{"complaint", "when", "resets", "history", "wet", "looks", "cause", "repair", "insulation", "leads", "coil off", "plate", "switching", "loads", "load wires", "danger", "not explained", "second fault"}
	value := quoteLines(e.Value)
	switch e.What {
	case "dead loads", "working loads", "clicks", "no click":
		if u == nil {
			return ""
		}
		if named := tags(u, partsIn(e.Value)); named != "" {
			value = named
		}
	default:
		if !slices.Contains(shown, e.What) {
			return ""
		}
	}
	if value == "" {
		return ""
	}
	return "Told, " + e.What + ": " + value
}

// report writes the job report, or that the job is still open.
func (d *document) report() {
	j, err := d.job()
	d.b.WriteString("\n## Report\n\n")
	switch {
	case err != nil:
		fmt.Fprintf(&d.b, "The trail does not fold: %v.\n", err)
		return
	case j.Closed == nil:
		fmt.Fprintf(&d.b, "The job is open, in %s.\n", strings.ReplaceAll(string(j.State), "_", " "))
		return
	}
	text, err := New(oneUnit{d.u}).Report(j)
	if err != nil {
		fmt.Fprintf(&d.b, "No report: %v.\n", err)
		return
	}
	d.b.WriteString("- " + strings.ReplaceAll(text, "\n", "\n- ") + "\n")
}

// oneUnit is a shelf with the unit of a transcript.
type oneUnit struct{ u *circuit.Unit }

// Entries returns nothing: no job is opened from it.
func (o oneUnit) Entries() []Entry { return nil }

// Unit returns the unit if it is that of the hash.
func (o oneUnit) Unit(h circuit.Hash) (*circuit.Unit, bool) {
	if o.u == nil || o.u.Hash != h {
		return nil, false
	}
	return o.u, true
}

func quoteLines(text string) string { return strings.Join(strings.Fields(text), " ") }

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
