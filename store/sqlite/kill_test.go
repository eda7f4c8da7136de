package sqlite_test

import (
	"bufio"
	"errors"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"halfsplit/bot"
	"halfsplit/store/sqlite"
)

// childDir tells a process of this test binary to be the one that is killed.
const childDir = "HALFSPLIT_STORE_CHILD"

const childPlaces = 3

// TestChild hears and commits until it is killed. It reports each thing on standard
// output only after the store has confirmed it.
func TestChild(t *testing.T) {
	dir := os.Getenv(childDir)
	if dir == "" {
		t.Skip("runs only as the child of TestKill")
	}
	s := openIn(t, dir)
	var wg sync.WaitGroup
	for p := range childPlaces {
		wg.Go(func() {
			c := bot.ConversationID(fmt.Sprint("place ", p))
			for i := 0; ; i++ {
				key := fmt.Sprintf("%d.%d.%d", os.Getpid(), p, i)
				m := bot.Incoming{Adapter: "console", Conversation: c, Keys: []bot.EventID{bot.EventID(key)}}
				h, err := s.Hear(t.Context(), m, bot.JobID("job "+key), bot.Record{Kind: "heard", Data: []byte(`"` + key + `"`)})
				if err != nil {
					t.Errorf("hear: %v", err)
					return
				}
				fmt.Fprintf(os.Stdout, "heard %s %d\n", key, h.Seq)
				err = s.Commit(t.Context(), bot.Commit{Job: h.Job, Version: h.Seq, Answered: h.Seq,
					Records: []bot.Record{{Seq: h.Seq + 1, Kind: "said", Data: []byte(`"` + key + `"`)}},
					Outbox:  []bot.Outgoing{{Key: "out " + key, Adapter: "console", Conversation: c, Text: key}},
					Timers:  []bot.Timer{{Name: key, Due: 1}}})
				if err != nil {
					t.Errorf("commit: %v", err)
					return
				}
				fmt.Fprintf(os.Stdout, "said %s %d\n", key, h.Seq+1)
			}
		})
	}
	wg.Wait()
}

// TestKill kills a process in the middle of its work, several times over the same file.
// Everything it had confirmed must be there, and nothing by halves. (A killed process is
// not a power cut: that rests on synchronous FULL, see TestSettings.)
func TestKill(t *testing.T) {
	dir := t.TempDir()
	heard, said := map[string]int{}, map[string]int{}
	for round := range 4 {
		kill(t, dir, 40+23*round, heard, said)
		s := openIn(t, dir).(*sqlite.Store) // the first to see the file since, so it recovers it
		var ok string
		if err := s.Reader().QueryRow("PRAGMA integrity_check").Scan(&ok); err != nil || ok != "ok" {
			t.Fatalf("round %d: integrity check: %s, %v", round, ok, err)
		}
		var broken int
		if err := s.Reader().QueryRow("SELECT count(*) FROM pragma_foreign_key_check").Scan(&broken); err != nil || broken != 0 {
			t.Fatalf("round %d: %d broken references, %v", round, broken, err)
		}
		checkKilled(t, s, heard, said, (round+1)*childPlaces)
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

// kill runs a child, kills it after so many lines, and adds what it had reported.
func kill(t *testing.T, dir string, lines int, heard, said map[string]int) {
	t.Helper()
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), exe, "-test.run=^TestChild$", "-test.timeout=60s")
	cmd.Env = append(os.Environ(), childDir+"="+dir)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	in := bufio.NewScanner(out)
	for n := 0; in.Scan(); n++ {
		if n == lines {
			time.Sleep(time.Duration(lines%7) * 100 * time.Microsecond) // not always right behind a confirmation
			if err := cmd.Process.Kill(); err != nil {
				t.Fatal(err)
			}
		}
		var key string
		var seq int
		switch what := in.Text(); {
		case strings.HasPrefix(what, "heard "):
			if _, err := fmt.Sscanf(what, "heard %s %d", &key, &seq); err == nil {
				heard[key] = seq
			}
		case strings.HasPrefix(what, "said "):
			if _, err := fmt.Sscanf(what, "said %s %d", &key, &seq); err == nil {
				said[key] = seq
			}
		default:
			t.Errorf("child: %s", what)
		}
	}
	var exit *exec.ExitError
	if err := cmd.Wait(); !errors.As(err, &exit) || exit.Exited() {
		t.Fatalf("child ended with %v, want to have killed it", err)
	}
	if len(heard) == 0 || len(said) == 0 {
		t.Fatal("the child confirmed nothing before it was killed")
	}
}

// checkKilled compares the store with what was confirmed. At most unconfirmed records
// of each kind may be there besides: one in flight per place and killed process.
func checkKilled(t *testing.T, s *sqlite.Store, heard, said map[string]int, unconfirmed int) {
	t.Helper()
	jobs, err := s.Jobs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(jobs) != childPlaces {
		t.Fatalf("%d jobs, want %d", len(jobs), childPlaces)
	}
	found := map[string]map[string]int{"heard": {}, "said": {}}
	for _, j := range jobs {
		trail, err := s.Load(t.Context(), j.Job)
		if err != nil {
			t.Fatal(err)
		}
		if last := trail[len(trail)-1].Seq; last != len(trail) || last != j.Version {
			t.Errorf("%s: %d records, last seq %d, version %d", j.Job, len(trail), last, j.Version)
		}
		for _, r := range trail {
			found[r.Kind][strings.Trim(string(r.Data), `"`)] = r.Seq
		}
	}
	for kind, confirmed := range map[string]map[string]int{"heard": heard, "said": said} {
		for key, seq := range confirmed {
			if found[kind][key] != seq {
				t.Errorf("%s %s was confirmed at %d, is at %d", kind, key, seq, found[kind][key])
			}
		}
		if extra := len(found[kind]) - len(confirmed); extra < 0 || extra > unconfirmed {
			t.Errorf("%d of kind %s beyond those confirmed, want 0 to %d", extra, kind, unconfirmed)
		}
	}
	due, err := s.Due(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	waiting := 0
	for p := range childPlaces {
		n, err := s.Unsent(t.Context(), bot.ConversationID(fmt.Sprint("place ", p)))
		if err != nil {
			t.Fatal(err)
		}
		waiting += n
	}
	// Records, messages and timers of a step are there together or not at all.
	if n := len(found["said"]); len(due) != n || waiting != n {
		t.Errorf("%d steps, %d timers, %d messages: want the same", n, len(due), waiting)
	}
	timers := map[string]bool{}
	for _, tm := range due {
		timers[tm.Name] = true
	}
	for _, key := range slices.Sorted(maps.Keys(found["said"])) {
		if !timers[key] {
			t.Errorf("step %s has no timer", key)
		}
	}
	for key := range found["heard"] {
		m := bot.Incoming{Adapter: "console", Conversation: "elsewhere", Keys: []bot.EventID{bot.EventID(key)}}
		if _, err := s.Hear(t.Context(), m, "job of a redelivery", bot.Record{}); !errors.Is(err, bot.ErrSeen) {
			t.Fatalf("redelivery of %s: got %v, want %v", key, err, bot.ErrSeen)
		}
	}
}
