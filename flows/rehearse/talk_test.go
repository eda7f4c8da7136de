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

// TestTalk prints a whole job, for a look at it: go test -run TestTalk -v, with FAULT
// naming the fault.
func TestTalk(t *testing.T) {
	if !testing.Verbose() {
		t.Skip("prints one job with -v")
	}
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
		rng := seedOf(seed, f, 0)
		truth, ok := Draw(net, f, rng)
		require.True(t, ok)
		t.Logf("%s, %v at %.3f, leads %v", name, truth.Fault.Ohms, truth.Fault.At, truth.Leads)
		m := isolate.New(net)
		tech := NewTech(m, truth, 0, rand.New(rand.NewPCG(rng.Uint64(), 1)))
		d := flows.New(shelf{u})
		var j flows.Job
		at := int64(1_700_000_000_000)
		text := tech.Complaint()
		for range 60 {
			at += 30_000
			next, out, err := say(d, j, text, at)
			require.NoError(t, err)
			j = next
			t.Log("TECH  " + text)
			for _, e := range out.Events {
				if s, ok := e.(flows.Said); ok {
					t.Log("BOT   " + strings.ReplaceAll(s.Text, "\n", "\n          "))
				}
			}
			if j.Closed != nil || j.Asked == nil || j.State == flows.HandedOver {
				break
			}
			var v *circuit.Item
			if j.Verdict != nil {
				v = &j.Verdict.Item
			}
			text = tech.Answer(*j.Asked, v)
		}
		t.Log("STATE", j.State)
	}
}
