package main

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every option is in the help, with its default; the help is no error and is printed
// wherever the word stands.
func TestRehearseHelp(t *testing.T) {
	for _, args := range [][]string{{"rehearse", "--help"}, {"rehearse", "-h"}, {"rehearse", "plate-warmer", "--help"}} {
		code, out, errs := runWith(t, args)
		require.Equal(t, exitOK, code, errs)
		for _, want := range []string{"UNIT...", "-seed", "-each", "-jobs", "-misread", "-faults", "-complaint", "-clumsy", "-unknown",
			"-generated", "-json", "-max-wrong", "-alone", "-outside", "-workers", `(default "trips")`, "(default 0.01)"} {
			assert.Contains(t, out, want, args)
		}
	}
}

// The names of the JSON are read by others.
func TestRehearseJSON(t *testing.T) {
	code, out, errs := runWith(t, []string{"rehearse", "plate-warmer", "--faults", "h3 shorted", "--each", "1", "--json"})
	require.Equal(t, exitOK, code, errs)
	var got struct {
		Unit    string           `json:"unit"`
		Total   map[string]any   `json:"total"`
		Faults  []map[string]any `json:"faults"`
		Remarks []string         `json:"remarks"`
	}
	require.NoError(t, json.Unmarshal([]byte(out), &got))
	require.Len(t, got.Faults, 1)
	assert.Equal(t, "lamp H3 shorted", got.Faults[0]["fault"])
	assert.Empty(t, got.Remarks)
	for _, key := range []string{"jobs", "right", "confident_wrong", "confident_wrong_upper_95", "silent_wrong", "handed_over_or_unresolved", "no_end",
		"mean_minutes", "part_by_part_mean_minutes", "mean_minutes_saved", "mean_minutes_saved_half_interval_95",
		"half_split_mean_minutes", "half_split_mean_minutes_saved", "half_split_mean_minutes_saved_half_interval_95", "half_split_median_readings",
		"engine_mean_minutes", "engine_mean_minutes_saved_over_half_split", "unsafe_prompts", "lost_readings", "same_words_three_times", "talk"} {
		assert.Contains(t, got.Total, key)
	}
	assert.EqualValues(t, 1, got.Total["right"])
}

// Several units end in a table with the worst.
func TestRehearseGenerated(t *testing.T) {
	code, out, errs := runWith(t, []string{"rehearse", "--generated", "2", "--jobs", "4", "--alone"})
	require.Equal(t, exitOK, code, errs)
	assert.Contains(t, out, "Invented unit 1")
	assert.Contains(t, out, "Invented unit 2")
	assert.Contains(t, out, "worst unit")
	for _, bad := range [][]string{{"--complaint", "smells", "plate-warmer"}, {"--unknown", "--clumsy", "plate-warmer"}, {"--jobs", "-1", "plate-warmer"}} {
		code, _, errs := runWith(t, append([]string{"rehearse"}, bad...))
		assert.Equal(t, exitUsage, code, bad)
		assert.NotEmpty(t, errs)
	}
}

// runWith runs a command line and returns what it printed.
func runWith(t *testing.T, args []string) (code int, out, errs string) {
	t.Helper()
	p, o, e := at(t, "")
	code = run(t.Context(), p, args)
	return code, o.String(), e.String()
}
