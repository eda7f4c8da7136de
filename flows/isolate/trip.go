package isolate

import "math"

// stillWrong is the chance that something which makes the breaker go is still in a unit
// after a repair, before the readings that follow it: half of all return visits have a
// second cause (common practice, no source), and one in five of those trips.
const stillWrong = 0.1

// TripChance is the chance that the breaker goes when the unit is switched on, after the
// readings taken since the repair: by a fault of the file that those readings leave
// room for. It is for a veto only; a low value permits nothing.
func (m *Model) TripChance(c Case, obs []Observation) float64 {
	c.CoilOff, c.When = 0, WhenUnknown
	var read []Observation
	for _, o := range obs {
		if !o.Void && see(o.Got, c.Leads).kind != sawNothing {
			read = append(read, o)
		}
	}
	// Every variant that trips has the weight of its rate; "sound" has the rest.
	trip := make([]float64, len(m.vars))
	prior := make([]Score, len(m.vars)+1)
	total := 0.0
	for i := range m.vars {
		v := &m.vars[i]
		trip[i] = 1 - (1-v.off)*(1-v.on)
		total += v.rate * trip[i]
		prior[i] = impossible
		if trip[i] > 0 {
			prior[i] = 0
		}
	}
	if total == 0 {
		return 0
	}
	sound := 0.0 // log2 of the likelihood of the readings on a sound unit
	logs := make([]float64, len(m.vars))
	for _, g := range groupRepeats(read) {
		row := m.likelihood(c, read, g, prior)
		s := m.soundScore(c, read, g)
		sound += float64(s) / scoreUnit
		for i := range m.vars {
			logs[i] += float64(row[i]) / scoreUnit
		}
	}
	trips := 0.0
	for i := range m.vars {
		if trip[i] > 0 {
			trips += stillWrong * m.vars[i].rate * trip[i] / total * math.Exp2(math.Max(-200, logs[i]-sound))
		}
	}
	return trips / (trips + 1 - stillWrong)
}

// soundScore is the score of one group of repeats on a sound unit.
func (m *Model) soundScore(c Case, obs []Observation, group []int) Score {
	t := obs[group[0]].Test
	leads := leadsOf(c)
	fit, wild := 1.0, 1.0
	r := m.at(t.In).row(t.A, t.B)
	for _, g := range group {
		s := see(obs[g].Got, c.Leads)
		fit *= chance(s, r.sound, leads)
		wild *= chanceFlat(s)
	}
	return ScoreOf((1-misread)*fit + misread*wild)
}
