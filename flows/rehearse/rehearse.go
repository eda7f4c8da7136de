package rehearse

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
)

// Config says what to rehearse.
type Config struct {
	Unit      *circuit.Unit
	Seeds     []uint64
	Each      int               // jobs for each fault and seed
	Most      int               // most jobs, spread evenly over all; 0: no limit
	Misread   float64           // chance that one reading is wrong
	Faults    string            // only faults whose name holds this
	Complaint isolate.Complaint // TripsAtOnce if not given
	Clumsy    bool              // the technician talks and acts clumsily
	Workers   int               // jobs at a time; the outcome does not depend on it
	Silent    bool              // without part by part and half-split
	Outside   bool              // the search of the dialog without the dialog
	Tech      func(*Tech)       // changes each technician before he starts; may be nil
	// Progress is told how many of how many jobs are done; may be nil. It is called
	// from one goroutine at a time.
	Progress func(done, of int)
	// Stop ends the run early with its error; may be nil.
	Stop func() error
}

// job is one job to be run.
type job struct {
	seed  uint64
	fault circuit.Fault
	class string // what the file does not model; "" for nothing
	rep   int
}

func (jb job) name(u *circuit.Unit) string {
	if jb.class != "" {
		return jb.class
	}
	return jb.fault.Name(u)
}

// bench is what all jobs of a run share.
type bench struct {
	config Config
	net    *circuit.Network
	model  *isolate.Model
	dialog *flows.Dialog
}

func newBench(c Config) *bench {
	if c.Complaint == isolate.AnyComplaint {
		c.Complaint = isolate.TripsAtOnce
	}
	net := circuit.NewNetwork(c.Unit)
	return &bench{config: c, net: net, model: isolate.New(net), dialog: flows.New(shelf{c.Unit})}
}

// Run talks every job through and returns the results in the order of seeds, faults and
// repetitions. Faults that never bring about the complaint have no job.
func Run(c Config) ([]Result, error) {
	b := newBench(c)
	var faults []circuit.Fault
	for _, f := range circuit.AllFaults(c.Unit) {
		if c.Faults != "" && !strings.Contains(strings.ToLower(f.Name(c.Unit)), strings.ToLower(c.Faults)) {
			continue
		}
		if couldComplain(b.net, f, b.config.Complaint) {
			faults = append(faults, f)
		}
	}
	var jobs []job
	for _, seed := range c.Seeds {
		for _, f := range faults {
			for rep := range max(1, c.Each) {
				jobs = append(jobs, job{seed: seed, fault: f, rep: rep})
			}
		}
	}
	return b.all(spread(jobs, c.Most), b.one)
}

// spread takes at most most of the jobs, evenly.
func spread(jobs []job, most int) []job {
	if most <= 0 || len(jobs) <= most {
		return jobs
	}
	out := make([]job, most)
	for i := range out {
		out[i] = jobs[i*len(jobs)/most]
	}
	return out
}

// all runs jobs, several at a time, and returns their results in order.
func (b *bench) all(jobs []job, one func(job) (*Result, error)) ([]Result, error) {
	c := b.config
	results := make([]*Result, len(jobs))
	errs := make([]error, len(jobs))
	var mu sync.Mutex
	done := 0
	var wg sync.WaitGroup
	next := make(chan int)
	for range max(1, c.Workers) {
		wg.Go(func() {
			for i := range next {
				results[i], errs[i] = one(jobs[i])
				mu.Lock()
				done++
				if c.Progress != nil {
					c.Progress(done, len(jobs))
				}
				mu.Unlock()
			}
		})
	}
	var stopped error
	for i := range jobs {
		if c.Stop != nil {
			if stopped = c.Stop(); stopped != nil {
				break
			}
		}
		next <- i
	}
	close(next)
	wg.Wait()
	if stopped != nil {
		return nil, stopped
	}
	var out []Result
	for i, r := range results {
		if errs[i] != nil {
			return out, fmt.Errorf("rehearse %s, seed %d, job %d: %w", jobs[i].name(c.Unit), jobs[i].seed, jobs[i].rep+1, errs[i])
		}
		if r != nil {
			out = append(out, *r)
		}
	}
	return out, nil
}

// one runs one job and, over the same truth, part by part and half-split. It returns nil
// for a fault that never brings about the complaint.
func (b *bench) one(jb job) (*Result, error) {
	rng := seedOf(jb.seed, jb.fault, jb.rep)
	truth, ok := Draw(b.net, jb.fault, b.config.Complaint, rng)
	if !ok {
		return nil, nil
	}
	return b.play(truth, rng)
}

// play runs one job over a truth.
func (b *bench) play(truth *Truth, rng *rand.Rand) (*Result, error) {
	c := b.config
	tech := NewTech(b.model, truth, c.Misread, rand.New(rand.NewPCG(rng.Uint64(), 1)))
	tech.about = c.Complaint
	if c.Tech != nil {
		c.Tech(tech)
	}
	var res Result
	var err error
	switch {
	case c.Outside:
		res, err = b.outside(truth, rng)
	case c.Clumsy:
		voice := newClumsy(tech)
		res, err = run(b.dialog, tech, voice.next, answersMostClumsy)
		res.Talk = voice.talk
	default:
		res, err = run(b.dialog, tech, plainly(tech), answersMost)
	}
	if err != nil || c.Silent {
		return &res, err
	}
	about, start := aboutOf(c.Complaint, b.model, truth), b.start()
	right := func(o Outcome) bool { return o.Proved && slices.Contains(truth.items(), o.Found) }
	res.Baseline, err = PartByPart(b.model, truth, about, start, rand.New(rand.NewPCG(rng.Uint64(), 2)))
	if err != nil {
		return nil, err
	}
	res.PartRight = right(res.Baseline)
	res.Half, err = Search(b.model, truth, about, start, b.model.HalfSplit, rand.New(rand.NewPCG(rng.Uint64(), 3)))
	if err != nil {
		return nil, err
	}
	res.HalfRight = right(res.Half)
	res.Engine, err = Search(b.model, truth, about, start, b.model.Next, rand.New(rand.NewPCG(rng.Uint64(), 4)))
	if err != nil {
		return nil, err
	}
	return &res, nil
}

// start is the unit at the first reading: the cover is off behind which the feed comes
// in.
func (b *bench) start() circuit.State {
	var s circuit.State
	if len(b.config.Unit.Covers) > 0 {
		s = s.Uncover(0)
	}
	return s
}

// outside runs the search of the dialog without the dialog.
func (b *bench) outside(truth *Truth, rng *rand.Rand) (Result, error) {
	var res Result
	if len(truth.Faults) > 0 {
		res.Fault = truth.Faults[0].Fault
		res.Name = res.Fault.Name(truth.World.Unit())
	}
	o, err := Search(b.model, truth, aboutOf(b.config.Complaint, b.model, truth), b.start(), b.model.Next, rand.New(rand.NewPCG(rng.Uint64(), 1)))
	res.Readings, res.Lifts, res.Covers, res.Minutes = o.Readings, o.Lifts, o.Covers, o.Minutes
	if o.Proved {
		found := o.Found
		res.Verdict, res.Group = &found, 1
		res.Right = slices.Contains(truth.items(), found)
		res.Wrong = !res.Right
	} else {
		res.HandedOut, res.Why = true, "nothing convicted"
	}
	return res, err
}

// shelf is a library of one unit.
type shelf struct{ unit *circuit.Unit }

func (s shelf) Entries() []flows.Entry {
	return []flows.Entry{{Hash: s.unit.Hash, Name: s.unit.Name, Words: []string{strings.ToLower(s.unit.Name)}}}
}

func (s shelf) Unit(h circuit.Hash) (*circuit.Unit, bool) { return s.unit, h == s.unit.Hash }
