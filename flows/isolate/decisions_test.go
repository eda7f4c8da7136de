package isolate

import (
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"halfsplit/flows/circuit"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite files of expected results")

// search isolates one fault with nominal values and an exact meter, and returns what was
// chosen and read at each step, and the verdict.
func search(t testing.TB, m *Model, f circuit.Placed) []string {
	t.Helper()
	s := circuit.State{}.Uncover(0)
	c := Case{Complaint: TripsAtOnce, Leads: 0.2}
	var obs []Observation
	var out []string
	for range 40 {
		b := m.Believe(c, obs)
		if b.Verdict == Proved || b.Verdict == Beyond {
			return append(out, fmt.Sprintf("verdict %d %s %d", b.Verdict, b.Odds[0].Item.Name(m.unit), b.Odds[0].PerMille))
		}
		ch, err := m.Confirm(b, s, Bans{})
		if b.Verdict == Open || errors.Is(err, ErrNothingTelling) {
			ch, err = m.Next(b, s, Bans{})
		}
		if err != nil {
			return append(out, err.Error())
		}
		s = done(m, s, ch.Acts)
		for _, test := range ch.Tests {
			v, err := m.net.DeadUnder(electrical(test.In), []circuit.Placed{f}, nil)
			require.NoError(t, err)
			got := readingOf(float64(v.Ohms(test.A, test.B)), 0.2)
			obs = append(obs, Observation{Seq: len(obs) + 1, Test: test, Got: got})
			out = append(out, fmt.Sprintf("%q %v", test.Key, got))
		}
	}
	return append(out, "no end")
}

// everySearch runs one fault of each kind and place that makes the breaker go: every
// one in step.
func everySearch(t testing.TB, m *Model, step int) string {
	var b strings.Builder
	n := 0
	for _, f := range circuit.AllFaults(m.unit) {
		p := circuit.Placed{Fault: f, Ohms: 0.12, At: 0.013}
		switch f.Mode {
		case circuit.Earthed, circuit.Chafed, circuit.EarthedTerm, circuit.ShortCircuit:
		case circuit.ShortedTurns:
			p.Ohms = 0.006
		default:
			continue
		}
		if n++; n%step != 0 {
			continue
		}
		fmt.Fprintf(&b, "%s\n", f.Name(m.unit))
		for _, line := range search(t, m, p) {
			fmt.Fprintf(&b, "\t%s\n", line)
		}
	}
	return b.String()
}

// The same choices come out on every machine, with and without fused multiply-add, and
// whether the cache is cold, warm or evicted all the time. Run it with
// GODEBUG=cpu.fma=off to see.
func TestDecisions(t *testing.T) {
	m := warmer(t)
	cold := everySearch(t, m, 1)
	file := filepath.Join("testdata", "decisions.txt")
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(file, []byte(cold), 0o644))
	}
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, string(want), cold, "run with -update if the change is meant")
	small := warmer(t)
	small.keep = 1
	assert.Equal(t, everySearch(t, m, 6), everySearch(t, small, 6), "warm and evicted all the time")
}

// Every fault in that file is found.
func TestDecisionsFindTheFault(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("testdata", "decisions.txt"))
	require.NoError(t, err)
	m := warmer(t)
	verdicts := 0
	item := ""
	for _, line := range strings.Split(string(text), "\n") {
		if line != "" && line[0] != '\t' {
			item = line
		}
		if rest, ok := strings.CutPrefix(line, "\tverdict 2 "); ok {
			verdicts++
			found := false
			for _, f := range circuit.AllFaults(m.unit) {
				it := m.unit.Item(f).Name(m.unit)
				if f.Name(m.unit) == item && strings.HasPrefix(rest, it+" ") {
					found = true
				}
			}
			assert.True(t, found, "%s: %s", item, rest)
		}
	}
	assert.Greater(t, verdicts, 25)
}

// BenchmarkNext measures the choice of a reading: the first of a job with everything
// cold, the same warm, and a later one after three readings.
func BenchmarkNext(b *testing.B) {
	m := warmer(b)
	c := Case{Complaint: TripsAtOnce, When: AtSwitch, Leads: 0.2}
	s := circuit.State{}.Uncover(0)
	none := m.Believe(c, nil)
	b.Run("first, cold", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			b.StopTimer()
			fresh := New(m.net)
			b.StartTimer()
			if _, err := fresh.Next(none, s, Bans{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("first, warm", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := m.Next(none, s, Bans{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	t2 := m.TestAt(term(b, m, "K1:T2"), circuit.Chassis, s)
	t1 := m.TestAt(term(b, m, "K1:T1"), circuit.Chassis, s)
	obs := []Observation{reads(b, 1, t1, "26.1 ohm"), reads(b, 2, t2, "1.1 ohm")}
	later := m.Believe(c, obs)
	b.Run("later, warm", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := m.Next(later, s, Bans{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("believe", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			m.Believe(c, obs)
		}
	})
	b.Run("model", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			New(m.net)
		}
	})
}
