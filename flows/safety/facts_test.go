package safety_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// The names are in stored trails: this list is only ever added to.
func TestNamesAreStored(t *testing.T) {
	require.Equal(t, []string{
		"nobody_hurt", "qualified", "kit_ready", "sources_read", "kitchen_told", "unit_off",
		"isolated", "locked", "released", "tried_start", "cover_opened",
		"known_before", "pairs_dead", "known_after", "guarded",
		"neutral_dead", "here_dead",
		"cause_proved", "mended", "frame_bonded", "legs_sound", "legs_clear", "insulated",
		"all_landed", "covers_on", "tools_off", "people_clear", "lock_off", "looks_right",
		"site_decides", "senior_agrees",
		"held", "ends_safe", "site_locked",
	}, safety.All.Names())
	require.Equal(t, safety.Facts(1), safety.NobodyHurt)
	require.Equal(t, safety.Facts(1<<33), safety.SiteLocked)
	require.Equal(t, safety.Facts(1<<34-1), safety.All)
}

func TestFactsJSON(t *testing.T) {
	b, err := json.Marshal(safety.Locked | safety.NobodyHurt)
	require.NoError(t, err)
	require.JSONEq(t, `["nobody_hurt","locked"]`, string(b))

	b, err = json.Marshal(struct {
		Needs safety.Facts `json:"needs"`
		Sets  safety.Facts `json:"sets,omitempty"`
	}{})
	require.NoError(t, err)
	require.JSONEq(t, `{"needs":[]}`, string(b))

	var f safety.Facts
	var unknown *safety.UnknownFact
	require.ErrorAs(t, json.Unmarshal([]byte(`["locked","lucky"]`), &f), &unknown)
	require.Equal(t, "lucky", unknown.Name)
	require.Zero(t, f, "a list that cannot be read sets nothing")
	require.Error(t, json.Unmarshal([]byte(`7`), &f))
	_, err = json.Marshal(safety.Facts(1 << 60))
	require.Error(t, err, "a fact without a name is not stored")
}

func FuzzFactsJSON(f *testing.F) {
	f.Add(uint64(0))
	f.Add(uint64(safety.All))
	f.Add(uint64(safety.ProvedDead))
	f.Fuzz(func(t *testing.T, n uint64) {
		want := safety.Facts(n) & safety.All
		b, err := json.Marshal(want)
		require.NoError(t, err)
		var got safety.Facts
		require.NoError(t, json.Unmarshal(b, &got))
		require.Equal(t, want, got)
		var sum safety.Facts
		for _, one := range want.List() {
			require.Zero(t, sum&one)
			sum |= one
		}
		require.Equal(t, want, sum)
	})
}

// n(n-1)/2 pairs: 3, 6, 6 and 10 for the four usual supplies with PE (GS38 guides name
// L-N, L-PE and N-PE for a single phase).
func TestPairs(t *testing.T) {
	require.Equal(t, [][2]string{{"L", "N"}, {"L", "PE"}, {"N", "PE"}}, safety.Pairs([]string{"L", "N", "PE"}))
	for _, c := range []struct {
		of   []string
		want int
	}{
		{[]string{"L1", "L2", "PE"}, 3},
		{[]string{"L1", "L2", "N", "PE"}, 6},
		{[]string{"L1", "L2", "L3", "PE"}, 6},
		{[]string{"L1", "L2", "L3", "N", "PE"}, 10},
		{[]string{"L1"}, 0},
		{nil, 0},
	} {
		require.Len(t, safety.Pairs(c.of), c.want, "%v", c.of)
	}
}

// Common practice, no source: below 3 V dead, from 30 V live, between them to be found.
func TestFindingOf(t *testing.T) {
	for _, c := range []struct {
		v    float64
		want safety.Finding
	}{
		{0, safety.IsDead}, {0.4, safety.IsDead}, {2.99, safety.IsDead}, {-2.5, safety.IsDead},
		{3, safety.LowVolts}, {-3, safety.LowVolts}, {24, safety.LowVolts}, {29.9, safety.LowVolts},
		{30, safety.IsLive}, {-48, safety.IsLive}, {121, safety.IsLive}, {math.Inf(1), safety.IsLive},
		{math.NaN(), safety.NotRead},
	} {
		require.Equal(t, c.want, safety.FindingOf(quantity.Volts(c.v)), "%v V", c.v)
	}
}

// At least 1 MΩ; at least 0.3 MΩ for heating above 3.5 kW (from memory of EN 50699).
func TestInsulationLimit(t *testing.T) {
	require.Equal(t, quantity.Ohms(1e6), safety.InsulationLimit(false, 9000))
	require.Equal(t, quantity.Ohms(1e6), safety.InsulationLimit(true, 3500))
	require.Equal(t, quantity.Ohms(0.3e6), safety.InsulationLimit(true, 3501))
}

// Each notice has a code of its own, a text, a known severity and a source: a clause,
// a handbook, or the words that there is none.
func TestNotices(t *testing.T) {
	seen := make(map[string]bool)
	for _, n := range safety.Notices() {
		require.False(t, seen[n.Code], "%s is there twice", n.Code)
		seen[n.Code] = true
		require.NotEmpty(t, n.Text, n.Code)
		require.NotContains(t, n.Text, "!", n.Code)
		require.Regexp(t, `29 CFR 1910\.|EN 50110-1|GS38|NFPA 70E|DOE-HDBK|NEETS|common practice, no source`, n.Source, n.Code)
		require.Contains(t, []safety.Severity{safety.IsDanger, safety.IsWarning, safety.IsCaution, safety.IsNotice}, n.Severity)
		got, ok := safety.NoticeOf(n.Code)
		require.True(t, ok)
		require.Equal(t, n, got)
	}
	for _, code := range []string{"stop", "stop_shock", "stop_gas", "stop_fire", "prove_test_prove", "no_second_try", "release_order"} {
		require.True(t, seen[code], code)
	}
}

func TestAskOf(t *testing.T) {
	for _, a := range safety.Asks() {
		got, ok := safety.AskOf(a.Code)
		require.True(t, ok)
		require.Equal(t, a, got)
	}
	_, ok := safety.AskOf("ask_nothing_known")
	require.False(t, ok)
	list := safety.Asks()
	list[0].Code = "changed"
	require.NotEqual(t, "changed", safety.Asks()[0].Code, "the table is not shared")
}
