package rehearse

import (
	"math/rand/v2"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// However a reading is typed, it reads back as what the meter showed, to the digits that
// were typed, or is asked back.
func TestVariedReadings(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	asked := 0
	for range 4000 {
		ohms := float64(even(0.2, 3e7, rng))
		text := vary(show(ohms), rng)
		got, doubt := quantity.Parse(text, quantity.Want{Unit: quantity.Ohm})
		if doubt != nil {
			asked++
			continue
		}
		assert.InDelta(t, ohms, got.Value(), 0.051+0.07*ohms, "%v as %q", ohms, text)
	}
	assert.Less(t, asked, 4000/20) // "1,506M" is asked back, as it should be
	for range 40 {
		got, doubt := quantity.Parse(vary("OL", rng), quantity.Want{Unit: quantity.Ohm})
		require.Nil(t, doubt)
		assert.Equal(t, quantity.Open, got.Class)
	}
}

// A clumsy technician: every job ends, nothing unsafe is asked, nothing is closed as
// repaired that is not.
func TestClumsy(t *testing.T) {
	c := Config{Unit: warmer(t), Seeds: []uint64{3}, Each: 1, Misread: 0.05, Clumsy: true, Silent: true, Workers: 2}
	results, err := Run(c)
	require.NoError(t, err)
	s := Sum(results)
	t.Logf("%+v", s)
	assert.Greater(t, s.Jobs, 30)
	assert.Zero(t, s.NoEnd)
	assert.Zero(t, s.Unsafe)
	assert.Zero(t, s.Silent)
	assert.Zero(t, s.SwitchOns)
	assert.LessOrEqual(t, s.Wrong, s.Jobs/25)
	assert.Greater(t, s.Talk.Cannot, s.Jobs/3)
	assert.Greater(t, s.Talk.Late, s.Jobs)
	assert.Greater(t, s.Talk.Asked, s.Jobs)
	for _, r := range results {
		assert.True(t, r.Right || r.Wrong || r.HandedOut, r.Name)
	}
	c.Workers, c.Faults = 1, "e1"
	some, err := Run(c)
	require.NoError(t, err)
	c.Workers = 3
	again, err := Run(c)
	require.NoError(t, err)
	assert.NotEmpty(t, some)
	assert.Equal(t, some, again)
}

// The watch sees what it is there for.
func TestWatch(t *testing.T) {
	u := warmer(t)
	m := newBench(Config{Unit: u}).model
	test := m.TestAt(0, -1, flows.Start().Circuit)
	reading := flows.Prompt{Ask: "ask_reading", Tests: []isolate.Test{test}}
	lift := flows.Prompt{Ask: "ask_lift_neutral", Tests: []isolate.Test{test}, Acts: []isolate.Act{{Kind: isolate.Lift, End: m.NeutralEnds()[0]}}}
	dead := flows.Job{State: flows.Isolate, Facts: safety.AtWork}
	for _, c := range []struct {
		about  string
		job    flows.Job
		prompt flows.Prompt
		did    utterance
		unsafe bool
	}{
		{"proved dead", dead, reading, utterance{}, false},
		{"not proved dead", flows.Job{State: flows.Isolate, Facts: safety.ToCover}, reading, utterance{}, true},
		{"in the wrong state", flows.Job{State: flows.Intake, Facts: safety.AtWork}, reading, utterance{}, true},
		{"switched on since", dead, reading, utterance{energises: true}, true},
		{"neutral not checked", dead, lift, utterance{}, true},
		{"neutral checked", flows.Job{State: flows.Isolate, Facts: safety.AtWork | safety.NeutralDead}, lift, utterance{}, false},
		{"switch on without a permit", flows.Job{State: flows.SwitchOn, Facts: safety.MaySwitchOn &^ safety.LegsClear}, flows.Prompt{Ask: "ask_switch_on"}, utterance{}, true},
		{"switch on with a permit", flows.Job{State: flows.SwitchOn, Facts: safety.MaySwitchOn}, flows.Prompt{Ask: "ask_switch_on"}, utterance{}, false},
		{"switch on with a cover off", flows.Job{State: flows.SwitchOn, Facts: safety.MaySwitchOn, Circuit: flows.Start().Circuit.Uncover(0)}, flows.Prompt{Ask: "ask_switch_on"}, utterance{}, true},
	} {
		w := Watch{model: m}
		w.typed(nil, c.did)
		w.asking(c.job, c.prompt)
		assert.Equal(t, c.unsafe, len(w.Unsafe) > 0, "%s: %v", c.about, w.Unsafe)
	}

	var w Watch
	w.heard(dead, utterance{text: "12, OL", readings: 2}, []flows.Event{flows.Read{}})
	assert.Len(t, w.Lost, 1)
	w.heard(dead, utterance{text: "12, OL", readings: 2}, []flows.Event{flows.Read{}, flows.Read{}})
	w.heard(dead, utterance{text: "12, OL", readings: 2}, []flows.Event{flows.Noted{Text: "12, OL"}})
	assert.Len(t, w.Lost, 1)

	j := dead
	j.Asked = &reading
	said := []flows.Message{{Text: "Read 14. “12” is not clear.", Prompt: true}}
	w.said(j, utterance{}, said)
	w.said(j, utterance{asks: true}, said)
	said[0].Text = "Read 14. “13” is not clear."
	w.said(j, utterance{}, said)
	assert.Empty(t, w.Nags)
	w.said(j, utterance{}, said)
	assert.Len(t, w.Nags, 1)
}
