package rehearse

import (
	"cmp"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"

	"github.com/stretchr/testify/require"
)

// TestTalk talks one job through to its end and prints it, for a look at it:
// go test -run TestTalk -v, with FAULT naming the fault and SEED the specimen.
func TestTalk(t *testing.T) {
	name := os.Getenv("FAULT")
	if name == "" {
		name = "element E1 earthed"
	}
	src, err := os.ReadFile("../../testdata/units/plate-warmer.yaml")
	require.NoError(t, err)
	u, problems := circuit.Parse("plate-warmer.yaml", src)
	require.Empty(t, problems)
	net := circuit.NewNetwork(u)
	for _, f := range circuit.AllFaults(u) {
		if f.Name(u) != name {
			continue
		}
		seed, _ := strconv.ParseUint(cmp.Or(os.Getenv("SEED"), "1"), 10, 64)
		rep, _ := strconv.Atoi(os.Getenv("REP"))
		rng := seedOf(seed, f, rep)
		truth, ok := Draw(net, f, isolate.TripsAtOnce, rng)
		require.True(t, ok)
		t.Logf("%s, %v, leads %v", name, truth.Faults, truth.Leads)
		m := isolate.New(net)
		misread, _ := strconv.ParseFloat(os.Getenv("MISREAD"), 64)
		tech := NewTech(m, truth, misread, rand.New(rand.NewPCG(rng.Uint64(), 1)))
		next, most := plainly(tech), 60
		if os.Getenv("CLUMSY") != "" {
			next, most = newClumsy(tech).next, 300
		}
		k := talk{dialog: flows.New(shelf{u}), at: 1_700_000_000_000, watch: &Watch{model: m}}
		for range most {
			said := next(k.job)
			if said.ends {
				break
			}
			out, err := k.say(said)
			require.NoError(t, err)
			t.Log("TECH  "+said.text+said.choice, " late", said.late)
			for _, e := range out.Events {
				if s, ok := e.(flows.Said); ok {
					t.Log("BOT   " + strings.ReplaceAll(s.Text, "\n", "\n          "))
				}
			}
			if k.job.Closed != nil || ended(k.job.State) {
				break
			}
			require.NoError(t, k.wait(said.wait))
		}
		if os.Getenv("MISREAD")+os.Getenv("CLUMSY") == "" {
			require.Equal(t, flows.Done, k.job.State)
			require.NotNil(t, k.job.Verdict)
			require.Equal(t, u.Item(f), k.job.Verdict.Item)
		}
		t.Logf("%s, unsafe %q, lost %q, nags %q", k.job.State, k.watch.Unsafe, k.watch.Lost, k.watch.Nags)
	}
}
