package rehearse

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/machine"
	"halfsplit/flows/safety"
)

// Result is one job from complaint to end.
type Result struct {
	Fault     circuit.Fault // that was looked for, of the unit as it really is
	Name      string        // of that fault
	Class     string        // what the file does not model, with --unknown
	Verdict   *circuit.Item // first one said
	Right     bool          // the first verdict is an item in fault
	Wrong     bool          // the first verdict is another: confident-wrong
	Silent    bool          // closed as repaired with a fault still in: silent-wrong
	NoEnd     bool          // the dialog went round in circles and was cut off
	HandedOut bool          // handed over, unresolved or left
	Paused    bool          // the technician paused and did not come back
	Why       string        // how it ended otherwise
	Left      []string      // faults that were still in when it was closed as repaired
	Group     int           // items in the verdict
	Readings  int           // to the first verdict, or to the end without one
	Lifts     int
	Covers    int
	Minutes   float64 // from the first isolation prompt to the verdict, landing included
	Messages  int     // from the bot, to the end
	Answers   int     // from the technician, to the end
	SwitchOns int     // before the cause was proved
	Misread   int     // readings that were wrong
	Misfit    bool    // "this does not fit" was said
	Baseline  Outcome // part by part
	PartRight bool
	Engine    Outcome // most information per minute, as the dialog, but outside it
	Half      Outcome // half-split by count, outside the dialog
	HalfRight bool
	Talk      Talk  // how the technician talked, if clumsy
	Watch     Watch // what must never happen
}

// answersMost ends a job that does not end by itself; a clumsy technician needs more.
const (
	answersMost       = 150
	answersMostClumsy = 400
)

// seedOf gives each job its own chance, by seed, fault and repetition.
func seedOf(seed uint64, what any, rep int) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprintf(h, "%v/%d", what, rep)
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// person is the simulated technician's identity and rights.
const person flows.PersonID = "rehearse:tech"

var rights = flows.Rights{Name: "tech", Roles: []flows.Role{flows.Tech}, May: flows.MayDead}

// utterance is one message of the technician.
type utterance struct {
	text      string
	choice    string // tapped instead of typed
	prompt    int    // that the tap belongs to
	late      bool   // typed before the open prompt was posted
	wait      int64  // ms until he reads what came back
	readings  int    // typed for the open prompt
	energises bool   // the breaker was closed
	asks      bool   // for the question again, or something about it
	ends      bool   // nothing is said: he does not come back
}

// talker says what the technician writes next; j.Asked may be nil.
type talker func(j flows.Job) utterance

// plainly is a technician who answers each prompt at once and in one way.
func plainly(t *Tech) talker {
	first := true
	return func(j flows.Job) utterance {
		u := utterance{wait: 20_000 + int64(t.rng.IntN(20_000))}
		switch {
		case first:
			first = false
			u.text = t.Complaint()
		case j.Asked == nil:
			u.text, u.asks = "status", true
		default:
			u.text = t.Answer(*j.Asked, verdictOf(j))
			u.readings = len(j.Asked.Tests)
			u.energises = j.Asked.Ask == "ask_switch_on"
		}
		return u
	}
}

// talk is a job under way.
type talk struct {
	dialog *flows.Dialog
	job    flows.Job
	at     int64
	timers []flows.Timer
	watch  *Watch
}

// run talks one job through with the dialog.
func run(d *flows.Dialog, tech *Tech, next talker, most int) (Result, error) {
	var res Result
	if len(tech.truth.Faults) > 0 {
		res.Fault = tech.truth.Faults[0].Fault
		res.Name = res.Fault.Name(tech.truth.World.Unit())
	}
	t := talk{dialog: d, at: 1_700_000_000_000, watch: &Watch{model: tech.model}}
	for res.Answers < most {
		u := next(t.job)
		if u.ends {
			break
		}
		out, err := t.say(u)
		if err != nil {
			return res, err
		}
		res.Answers++
		for _, e := range out.Events {
			switch e := e.(type) {
			case flows.Said:
				res.Messages++
				if e.Code == "" {
					return res, fmt.Errorf("rehearse: a message without a code: %q", e.Text)
				}
			case flows.Judged:
				res.Misfit = res.Misfit || len(e.Misfit) > 0
			}
		}
		j := t.job
		if res.Verdict == nil && j.Verdict != nil && j.Facts.Has(safety.CauseProved) {
			res.Verdict = verdictOf(j)
			res.Group = 1
			res.Right = slices.Contains(tech.blame, *res.Verdict)
			res.Wrong = !res.Right
			tech.settle(&res)
		}
		if tech.SwitchOns > 0 && res.Verdict == nil {
			res.SwitchOns = tech.SwitchOns
		}
		if j.Closed != nil || ended(j.State) {
			break
		}
		// He reads the last prompt when he comes back to the phone.
		if err := t.wait(u.wait); err != nil {
			return res, err
		}
	}
	if res.Verdict == nil {
		tech.settle(&res)
	}
	res.Misread = tech.Misreads
	res.Watch = *t.watch
	res.Watch.model = nil
	j := t.job
	switch {
	case j.State == flows.HandedOver:
		res.HandedOut, res.Why = true, "handed over"
	case j.State == flows.Paused:
		res.Paused, res.HandedOut, res.Why = true, true, "paused"
	case j.Closed == nil && j.State != flows.Done:
		res.NoEnd, res.HandedOut, res.Why = true, true, "no end after "+fmt.Sprint(res.Answers)+" answers, in "+string(j.State)
	case j.Closed != nil && j.Closed.Outcome == "restored":
		// A second fault that trips nothing and stops no load is left, but the complaint
		// is gone.
		res.Silent = tech.truth.unmended() || !tech.truth.allWork() || tech.truth.mayTrip()
		for _, f := range tech.truth.Faults {
			res.Left = append(res.Left, fmt.Sprintf("%s, %.3g ohms", f.Name(tech.truth.World.Unit()), float64(f.Ohms)))
		}
	default:
		res.HandedOut, res.Why = true, "left out of service"
	}
	return res, nil
}

func ended(s machine.State) bool { return s == flows.HandedOver || s == flows.Done }

// settle takes over what the technician did up to here. Landing and covers are in the
// minutes of each lift and cover already.
func (t *Tech) settle(r *Result) {
	r.Readings, r.Lifts, r.Covers, r.Minutes = t.Readings, t.Lifts, t.Covers, t.Minutes
	t.found = true
}

// wait lets time pass: timers that fall due are heard.
func (t *talk) wait(ms int64) error {
	until := t.at + ms
	for range 100 { // a timer may set another
		next := -1
		for i, timer := range t.timers {
			if timer.Due <= until && (next < 0 || timer.Due < t.timers[next].Due) {
				next = i
			}
		}
		if next < 0 {
			break
		}
		timer := t.timers[next]
		t.timers = slices.Delete(t.timers, next, next+1)
		t.at = max(t.at, timer.Due)
		if _, err := t.step(flows.Timed{Name: timer.Name}, flows.Input{At: t.at, Timer: timer.Name}, utterance{}); err != nil {
			return err
		}
	}
	t.at = until
	return nil
}

// say folds one message of the technician and the dialog's answer to it.
func (t *talk) say(u utterance) (flows.Result, error) {
	in := flows.Input{At: t.at, SentAt: t.at, By: person, Rights: rights, Text: u.text, Choice: u.choice, Prompt: u.prompt}
	if t.job.Asked != nil {
		in.Posted = t.job.Asked.At
		if u.late {
			in.SentAt = in.Posted - 1
		}
	}
	t.watch.typed(t.job.Asked, u)
	heard := flows.Heard{Text: u.text, Choice: u.choice, Prompt: u.prompt, Sent: in.SentAt, Posted: in.Posted, Rights: rights}
	return t.step(heard, in, u)
}

// step folds what came in and what the dialog makes of it, under watch.
func (t *talk) step(came flows.Event, in flows.Input, u utterance) (flows.Result, error) {
	apply := func(e flows.Event) error {
		next, err := flows.Apply(t.job, in.At, in.By, e)
		if err == nil {
			t.job = next
		}
		return err
	}
	if err := apply(came); err != nil {
		return flows.Result{}, err
	}
	out, err := t.dialog.Step(t.job, in)
	if err != nil {
		return out, fmt.Errorf("rehearse: %q in %s: %w", u.text, t.job.State, err)
	}
	was := t.job
	for _, e := range out.Events {
		if asked, ok := e.(flows.Asked); ok {
			t.watch.asking(t.job, asked.Prompt)
		}
		if err := apply(e); err != nil {
			return out, err
		}
	}
	if t.job.Asked != nil {
		t.watch.open(t.job, *t.job.Asked)
	}
	t.watch.heard(was, u, out.Events)
	t.watch.said(t.job, u, out.Say)
	for _, timer := range out.Timers {
		t.timers = slices.DeleteFunc(t.timers, func(o flows.Timer) bool { return o.Name == timer.Name })
		if timer.Due > 0 {
			t.timers = append(t.timers, timer)
		}
	}
	return out, nil
}

// aboutOf is what is known of a job apart from readings, as a search outside the dialog
// starts with.
func aboutOf(c isolate.Complaint, m *isolate.Model, t *Truth) isolate.Case {
	about := isolate.Case{Complaint: c, Leads: t.Leads}
	if c == isolate.DoesNotWork {
		for _, p := range m.Loads() {
			if t.Works.Has(int(p)) {
				about.Works = append(about.Works, p)
			} else {
				about.Dead = append(about.Dead, p)
			}
		}
		return about
	}
	about.When = isolate.AtSwitch
	if t.AtRest {
		about.When = isolate.AtBreaker
	}
	return about
}
