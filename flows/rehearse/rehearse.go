package rehearse

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
)

// Config says what to rehearse.
type Config struct {
	Unit    *circuit.Unit
	Seeds   []uint64
	Each    int     // jobs for each fault and seed
	Misread float64 // chance that one reading is wrong
	Faults  string  // only faults whose name holds this
	Workers int     // jobs at a time; the outcome does not depend on it
	Silent  bool    // without part by part
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
	rep   int
}

// Run talks every job through and returns the results in the order of seeds, faults and
// repetitions. Faults that never make the breaker go at once have no job.
func Run(c Config) ([]Result, error) {
	net := circuit.NewNetwork(c.Unit)
	model := isolate.New(net)
	dialog := flows.New(shelf{c.Unit})
	var jobs []job
	for _, seed := range c.Seeds {
		for _, f := range circuit.AllFaults(c.Unit) {
			if c.Faults != "" && !strings.Contains(strings.ToLower(f.Name(c.Unit)), strings.ToLower(c.Faults)) {
				continue
			}
			for rep := range max(1, c.Each) {
				jobs = append(jobs, job{seed, f, rep})
			}
		}
	}
	results := make([]*Result, len(jobs))
	errs := make([]error, len(jobs))
	var mu sync.Mutex
	done := 0
	var wg sync.WaitGroup
	next := make(chan int)
	for range max(1, c.Workers) {
		wg.Go(func() {
			for i := range next {
				results[i], errs[i] = one(c, net, model, dialog, jobs[i])
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
			return out, fmt.Errorf("rehearse %s, seed %d, job %d: %w", jobs[i].fault.Name(c.Unit), jobs[i].seed, jobs[i].rep+1, errs[i])
		}
		if r != nil {
			out = append(out, *r)
		}
	}
	return out, nil
}

// one runs one job and, over the same truth, part by part. It returns nil for a fault
// that never makes the breaker go.
func one(c Config, net *circuit.Network, model *isolate.Model, dialog *flows.Dialog, jb job) (*Result, error) {
	rng := seedOf(jb.seed, jb.fault, jb.rep)
	truth, ok := Draw(net, jb.fault, rng)
	if !ok {
		return nil, nil
	}
	res, err := run(dialog, model, truth, c.Misread, rand.New(rand.NewPCG(rng.Uint64(), 1)))
	if err != nil {
		return nil, err
	}
	if c.Silent {
		return &res, nil
	}
	about := isolate.Case{Complaint: isolate.TripsAtOnce, When: isolate.AtSwitch, Leads: truth.Leads}
	if truth.AtRest {
		about.When = isolate.AtBreaker
	}
	// The same cover is off at the start: the one behind which the feed comes in.
	var start circuit.State
	if len(c.Unit.Covers) > 0 {
		start = start.Uncover(0)
	}
	res.Baseline, err = PartByPart(model, truth, about, start, rand.New(rand.NewPCG(rng.Uint64(), 2)))
	if err != nil {
		return nil, err
	}
	res.PartRight = res.Baseline.Proved && res.Baseline.Found == c.Unit.Item(truth.Fault.Fault)
	return &res, nil
}

// shelf is a library of one unit.
type shelf struct{ unit *circuit.Unit }

func (s shelf) Entries() []flows.Entry {
	return []flows.Entry{{Hash: s.unit.Hash, Name: s.unit.Name, Words: []string{strings.ToLower(s.unit.Name)}}}
}

func (s shelf) Unit(h circuit.Hash) (*circuit.Unit, bool) { return s.unit, h == s.unit.Hash }
