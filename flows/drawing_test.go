package flows

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"halfsplit/flows/machine"
)

var update = flag.Bool("update", false, "rewrite the drawing of the table in DEVELOPERS.md")

// The drawing in DEVELOPERS.md is the table, without what may come in every state.
func TestDrawing(t *testing.T) {
	everywhere := interrupts()
	drawn := theTable(t).Mermaid(func(r machine.Rule) bool {
		return !slices.ContainsFunc(everywhere, func(i machine.Rule) bool { return i.From == r.From && i.On == r.On })
	})
	const start, end = "<!-- drawing:table -->\n", "<!-- /drawing:table -->"
	page := filepath.Join("..", "DEVELOPERS.md")
	text, err := os.ReadFile(page)
	require.NoError(t, err)
	before, rest, ok := bytes.Cut(text, []byte(start))
	require.True(t, ok, "no start marker")
	old, after, ok := bytes.Cut(rest, []byte(end))
	require.True(t, ok, "no end marker")
	want := "```mermaid\n" + drawn + "```\n"
	if *update && string(old) != want {
		require.NoError(t, os.WriteFile(page, slices.Concat(before, []byte(start), []byte(want), []byte(end), after), 0o644))
		return
	}
	require.Equal(t, want, string(old), "run: go test ./flows -run TestDrawing -update")
}
