package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"halfsplit/bot"
	"halfsplit/bot/engine"
	"halfsplit/flows"
	"halfsplit/store/sqlite"
)

// pipeMode, if set, makes this test program be the server with a pipe for a chat
// system, at the store it names.
const pipeMode = "HALFSPLIT_TEST_PIPE"

// workDir is removed when the tests end.
var workDir string

func TestMain(m *testing.M) { os.Exit(testMain(m)) }

func testMain(m *testing.M) int {
	if path := os.Getenv(pipeMode); path != "" {
		if err := servePipe(context.Background(), path, os.Stdin, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			return 1
		}
		return 0
	}
	var err error
	if workDir, err = os.MkdirTemp("", "halfsplit-test-"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(workDir)
	return m.Run()
}

// build makes the program, once.
var build = sync.OnceValues(func() (string, error) {
	exe := filepath.Join(workDir, "halfsplit")
	if runtime.GOOS == "windows" {
		exe += ".exe"
	}
	out, err := exec.Command("go", "build", "-o", exe, ".").CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("build: %w\n%s", err, out)
	}
	return exe, nil
})

// script is a technician who answers whatever comes in the order in which the dialog of
// the plate warmer asks it, with some nonsense, doubts and questions between.
var script = strings.Split(strings.TrimSpace(`
plate warmer, breaker goes as soon as I flip the switch
blah blah
cook did it 3 times, nothing read yet
why
a b c d e f g h i
j
121, 0, 0, 0, 0, 0, 0, 0, 121, guarded, 0.2
status
13
undo
13
ok
ol
can't
where
12.5
ol
2.3M
`), "\n")

// far is one way to talk to a program that will be killed.
type far struct {
	name string
	// command starts the program at a store.
	command func(t *testing.T, store string) *exec.Cmd
	// feed is what is written to it from a line on: heard is how many lines the store has.
	feed func(heard int) string
}

var fars = []far{
	{
		name: "terminal", // a line that is not in the trail is typed again
		command: func(t *testing.T, store string) *exec.Cmd {
			exe, err := build()
			if err != nil {
				t.Fatal(err)
			}
			return exec.Command(exe, "--store", store)
		},
		feed: func(heard int) string { return strings.Join(script[heard:], "\n") + "\n" },
	},
	{
		name: "redelivery", // lines have ids, and all of the last three are delivered again
		command: func(t *testing.T, store string) *exec.Cmd {
			exe, err := os.Executable()
			if err != nil {
				t.Fatal(err)
			}
			cmd := exec.Command(exe)
			cmd.Env = append(os.Environ(), pipeMode+"="+store)
			return cmd
		},
		feed: func(heard int) string {
			var b strings.Builder
			for i := max(0, heard-3); i < len(script); i++ {
				fmt.Fprintf(&b, "%d\t%s\n", i, script[i])
			}
			return b.String()
		},
	},
}

// TestKill kills the program at random points of a scripted job, starts it again and
// goes on. At the end the trail must be what it is without a kill: no reading lost, no
// message twice.
func TestKill(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("a killed process cannot be told from one that failed there")
	}
	kills := 500
	if testing.Short() {
		kills = 20
	}
	const seed = 1
	for n, f := range fars {
		t.Run(f.name, func(t *testing.T) {
			ref := reference(t, f)
			var done, jobs atomic.Int64
			at := make([]atomic.Int64, len(script)+1) // kills by how many lines were heard
			var wg sync.WaitGroup
			for worker := range min(runtime.GOMAXPROCS(0), 4) {
				wg.Go(func() {
					rng := rand.New(rand.NewPCG(seed, uint64(n*100+worker)))
					for int(done.Load()) < kills/len(fars) && !t.Failed() {
						k, err := killedJob(t, f, ref, rng, kills/len(fars), &done, at)
						if err != nil {
							t.Errorf("worker %d, job %d, after %d kills of it: %v", worker, jobs.Load(), k, err)
							return
						}
						jobs.Add(1)
					}
				})
			}
			wg.Wait()
			var spread []int64
			for i := range at {
				spread = append(spread, at[i].Load())
			}
			t.Logf("kills after 0, 1, ... lines heard: %v", spread)
			t.Logf("%d kills in %d jobs of %d lines and %d records; start takes %v, a line %v",
				done.Load(), jobs.Load(), len(script), len(ref.trail), ref.start.Round(time.Millisecond), ref.line.Round(time.Millisecond/10))
		})
	}
}

// undisturbed is the outcome of a job without a kill.
type undisturbed struct {
	trail []string
	start time.Duration // until the first answer
	line  time.Duration
}

func reference(t *testing.T, f far) undisturbed {
	store := filepath.Join(t.TempDir(), "ref.db")
	cmd := f.command(t, store) // may build first
	began := time.Now()
	l, err := start(cmd, f.feed(0))
	if err != nil {
		t.Fatal(err)
	}
	<-l.up
	var ref undisturbed
	ref.start = time.Since(began)
	if err := l.wait(); err != nil {
		t.Fatalf("without a kill: %v\n%s", err, l.stderr.String())
	}
	ref.line = (time.Since(began) - ref.start) / time.Duration(len(script))
	recs, _, err := readTrail(store)
	if err != nil {
		t.Fatal(err)
	}
	if ref.trail, err = plainTrail(recs); err != nil {
		t.Fatal(err)
	}
	reads := 0
	for _, r := range recs {
		if r.Kind == (flows.Read{}).Kind() {
			reads++
		}
	}
	if reads < 3 {
		t.Fatalf("the script gives %d readings, too few to show that none is lost:\n%s", reads, strings.Join(ref.trail, "\n"))
	}
	return ref
}

// killedJob does one job, killing the program now and then until enough are done, and
// returns how often.
func killedJob(t *testing.T, f far, ref undisturbed, rng *rand.Rand, enough int, done *atomic.Int64, at []atomic.Int64) (int, error) {
	dir, err := os.MkdirTemp(workDir, "job-")
	if err != nil {
		return 0, err
	}
	defer os.RemoveAll(dir)
	store := filepath.Join(dir, "jobs.db")
	heard, shown := 0, 0
	for kills := 0; ; kills++ {
		l, err := start(f.command(t, store), f.feed(heard))
		if err != nil {
			return kills, err
		}
		if int(done.Load()) < enough {
			// One kill in four falls into the start, the rest up to three lines after
			// the first thing shown.
			if rng.IntN(4) == 0 {
				time.Sleep(time.Duration(rng.Int64N(int64(ref.start))))
			} else {
				<-l.up
				time.Sleep(time.Duration(rng.Int64N(int64(3 * ref.line))))
			}
			l.cmd.Process.Kill() // SIGKILL; its error is that the program has ended
		}
		err = l.wait()
		shown += l.fresh
		ended := err == nil
		if !ended && l.cmd.ProcessState.Exited() {
			return kills, fmt.Errorf("the program failed: %w\n%s", err, l.stderr.String())
		}
		if !ended {
			done.Add(1)
		}
		recs, unsent, err := readTrail(store)
		if err != nil && (ended || !errors.Is(err, bot.ErrNotFound)) {
			return kills, err
		}
		heard = 0
		said := 0
		for _, r := range recs {
			switch r.Kind {
			case flows.Heard{}.Kind():
				heard++
			case flows.Said{}.Kind():
				said++
			}
		}
		if shown > said {
			return kills, fmt.Errorf("%d messages were shown, the trail has %d", shown, said)
		}
		if !ended {
			at[min(heard, len(script))].Add(1)
			continue
		}
		if unsent > 0 {
			return kills, fmt.Errorf("%d messages were never sent", unsent)
		}
		got, err := plainTrail(recs)
		if err != nil {
			return kills, err
		}
		return kills, diff(ref.trail, got)
	}
}

// diff reports the first difference of two trails.
func diff(want, got []string) error {
	for i := range max(len(want), len(got)) {
		w, g := "nothing", "nothing"
		if i < len(want) {
			w = want[i]
		}
		if i < len(got) {
			g = got[i]
		}
		if w != g {
			return fmt.Errorf("record %d:\n got %s\nwant %s", i+1, g, w)
		}
	}
	return nil
}

// life is one run of the program.
type life struct {
	cmd    *exec.Cmd
	up     chan struct{} // closed at its first answer, or its end
	read   chan struct{} // closed when its output has ended
	fresh  int           // messages shown that were not marked as shown before
	stderr strings.Builder
}

func start(cmd *exec.Cmd, feed string) (*life, error) {
	l := &life{cmd: cmd, up: make(chan struct{}), read: make(chan struct{})}
	in, err := cmd.StdinPipe()
	if err != nil {
		return nil, err
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	cmd.Stderr = &l.stderr
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	go func() {
		io.WriteString(in, feed) // fails when the program is killed
		in.Close()
	}()
	go func() {
		defer close(l.read)
		var once sync.Once
		defer once.Do(func() { close(l.up) })
		lines := bufio.NewScanner(out)
		lines.Buffer(nil, 1<<20)
		for lines.Scan() {
			if text, ok := strings.CutPrefix(lines.Text(), "bot   "); ok {
				once.Do(func() { close(l.up) })
				if text = strings.TrimPrefix(text, `"`); !strings.HasPrefix(text, "(again)") && !strings.HasPrefix(text, "As before the break") {
					l.fresh++
				}
			}
		}
	}()
	return l, nil
}

func (l *life) wait() error {
	<-l.read
	return l.cmd.Wait()
}

// readTrail returns the trail of the last job of a store, which must fold, and how many
// of its messages are not sent.
func readTrail(path string) (recs []bot.Record, unsent int, err error) {
	ctx := context.Background()
	st, err := sqlite.Open(ctx, path, nil)
	if err != nil {
		return nil, 0, err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	all, err := st.Jobs(ctx)
	if err != nil {
		return nil, 0, err
	}
	if len(all) == 0 {
		return nil, 0, bot.ErrNotFound
	}
	if len(all) > 1 {
		return nil, 0, fmt.Errorf("there are %d jobs", len(all))
	}
	if recs, err = st.Load(ctx, all[0].Job); err != nil {
		return nil, 0, err
	}
	if _, err = engine.Fold(recs); err != nil {
		return nil, 0, err
	}
	unsent, err = st.Unsent(ctx, all[0].Conversation)
	return recs, unsent, err
}

// plainTrail writes a trail without what differs from one run to the next: times, keys,
// the place.
func plainTrail(recs []bot.Record) ([]string, error) {
	var out []string
	for _, r := range recs {
		e, err := engine.Decode(r)
		if err != nil {
			return nil, err
		}
		switch x := e.(type) {
		case flows.Heard:
			e = flows.Heard{Text: x.Text}
		case flows.Asked:
			x.Prompt.At = 0
			e = x
		}
		data, err := json.Marshal(e)
		if err != nil {
			return nil, err
		}
		out = append(out, r.Kind+" "+string(data))
	}
	return out, nil
}

// pipe is a chat system that delivers a line again until it was acknowledged: each line
// begins with its id and a tab.
type pipe struct {
	in  io.Reader
	out io.Writer
}

func (pipe) Name() string       { return "pipe" }
func (pipe) Limits() bot.Limits { return bot.Limits{} }

func (p pipe) Send(_ context.Context, m bot.Outgoing) (bot.MessageRef, error) {
	mark := ""
	if m.Attempt > 1 {
		mark = "(again) "
	}
	_, err := fmt.Fprintf(p.out, "bot   %s%s\n", mark, strconv.Quote(m.Text))
	return "1", err
}

func (p pipe) Run(ctx context.Context, in bot.Receiver) error {
	lines := bufio.NewScanner(p.in)
	for lines.Scan() {
		id, text, _ := strings.Cut(lines.Text(), "\t")
		err := in.Receive(ctx, bot.Incoming{
			Adapter: p.Name(), Conversation: demoTerminal, Person: demoTech, Keys: []bot.EventID{bot.EventID(id)},
			Text: text, SentAt: time.Now().UnixMilli(),
		})
		if err != nil {
			return err
		}
		if err := in.(bot.Settler).Settled(ctx, demoTerminal); err != nil {
			return err
		}
	}
	return lines.Err()
}

// servePipe runs the server with a pipe.
func servePipe(ctx context.Context, path string, in io.Reader, out io.Writer) error {
	l, err := readLibrary()
	if err != nil {
		return err
	}
	st, err := sqlite.Open(ctx, path, nil)
	if err != nil {
		return err
	}
	s := Server{Store: st, Library: l, Out: io.Discard, Chat: pipe{in, out}, Now: time.Now, Log: logger(os.Stderr)}
	return errors.Join(s.Run(ctx), st.Close())
}
