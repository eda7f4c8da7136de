package engine_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"testing"

	"halfsplit/bot"
	"halfsplit/bot/engine"
	"halfsplit/flows"
	"halfsplit/flows/circuit"
	"halfsplit/flows/isolate"
	"halfsplit/flows/quantity"
	"halfsplit/flows/safety"
)

// every holds one event of every kind, with contents that are hard to store: sets
// whose bytes are not UTF-8, ids of zero, texts with signs.
func every() []flows.Event {
	state := circuit.State{On: circuit.BitsOf(0), Held: circuit.BitsOf(7, 15), Lifted: circuit.BitsOf(0, 7, 200), Off: circuit.BitsOf(1)}
	state.At = state.At.With(3, 1)
	node, end := circuit.Node(0), circuit.EndID(0)
	test := isolate.Test{Key: "14 to frame", Kind: isolate.ToFrame, A: 0, B: circuit.Chassis, Part: circuit.None, Elem: circuit.None, Wire: 2, In: state}
	fault := circuit.Fault{Mode: circuit.Earthed, Part: 4, Elem: 0, Wire: circuit.None, End: circuit.None}
	return []flows.Event{
		flows.Heard{Text: "13 Ω & <b> \u2028 \"ok\"", Choice: "y", Prompt: 3, Sent: 1, Photo: "ab", Keys: []string{"k"}, Place: "room:c",
			Rights: flows.Rights{Name: "Ann", Roles: []flows.Role{flows.Tech}, May: flows.MayDead, LiveV: 250}, Posted: 2},
		flows.Opened{Unit: circuit.Hash{1, 0xff}, Source: []byte{0, 0xff}, Policy: flows.Policy{Version: "1"}, Engine: "1", Safety: "1", Lang: "en"},
		flows.Told{What: "when", Value: "switch"},
		flows.Asked{Prompt: flows.Prompt{ID: 4, Ask: "read", Tests: []isolate.Test{test}, Acts: []isolate.Act{{Kind: isolate.Lift, Cover: circuit.None, End: 0, Part: circuit.None}},
			Needs: safety.ProvedDead, Wants: []quantity.Want{{Unit: quantity.Ohm, Lo: 0.5, Hi: 2e6}}, Choices: []flows.Choice{{Word: "ol", Value: "open"}}, Target: &fault, At: 9},
			Worth: 1.25, Cost: 0.5, Rivals: []isolate.Rival{{Keys: []string{"x"}, Minutes: 1, Gain: 0.1}}},
		flows.Read{Prompt: 4, Test: test, Got: quantity.Reading{Class: quantity.Value, Lo: quantity.Decimal{Coef: 13}, Hi: quantity.Decimal{Coef: 13}, Unit: quantity.Ohm, Text: "13"}},
		flows.Corrected{Seq: 5, Why: "wrong wire"},
		flows.Did{Act: isolate.Act{Kind: isolate.Lift, End: 200}},
		flows.Moved{From: flows.Intake, On: "known", To: flows.MakeSafe, Sets: safety.NobodyHurt, Drops: safety.LockOff},
		flows.Refused{Key: "k", Node: &node, End: &end, Lack: safety.Locked, Why: "cannot reach"},
		flows.Said{Code: "next", Args: []flows.Arg{{Name: "wire", Value: "14"}}, Text: "Touch 14.", Lang: "en"},
		flows.Judged{Items: []flows.Judgement{{PerMille: 970, Fault: fault}}, Unknown: 5, Verdict: isolate.Suspect, Engine: "1"},
		flows.Led{Who: "room:sue", Mode: "lead"},
		flows.Noted{Text: "burnt", Blob: "cd"},
		flows.Timed{Name: "wait"},
		flows.Failed{Code: "panic"},
		flows.Closed{Outcome: "found", Off: []circuit.EndID{0, 200}},
	}
}

func TestEveryKindIsReadAsWritten(t *testing.T) {
	for i, want := range every() {
		rec, err := engine.Encode("job1", i+1, 5, "room:ann", want)
		good(t, err)
		equal(t, want.Kind(), rec.Kind)
		got, err := engine.Decode(rec)
		good(t, err)
		if !reflect.DeepEqual(want, got) {
			t.Errorf("%s: got\n\t%+v\nwant\n\t%+v", rec.Kind, got, want)
		}
	}
}

func trail(t *testing.T, events ...flows.Event) []bot.Record {
	var recs []bot.Record
	for i, e := range events {
		rec, err := engine.Encode("job1", i+1, int64(1000+i), "room:ann", e)
		good(t, err)
		recs = append(recs, rec)
	}
	return recs
}

// digest is a hash of all that a job holds.
func digest(t *testing.T, j flows.Job) [32]byte {
	data, err := json.Marshal(j)
	good(t, err)
	return sha256.Sum256(data)
}

func TestFoldsOfOneTrailAreEqual(t *testing.T) {
	recs := trail(t, every()...)
	first, err := engine.Fold(recs)
	good(t, err)
	yes(t, first.Seq == len(recs) && first.Closed != nil && len(first.Seen) == 1)
	for range 50 {
		j, err := engine.Fold(recs)
		good(t, err)
		equal(t, digest(t, first), digest(t, j))
	}
	other, err := engine.Fold(recs[:len(recs)-1])
	good(t, err)
	yes(t, digest(t, other) != digest(t, first), "the hash tells jobs apart")
}

func TestFoldErrors(t *testing.T) {
	recs := trail(t, every()...)
	bad := bytes.Clone
	for _, c := range []struct {
		name   string
		change func([]bot.Record) []bot.Record
		want   string
	}{
		{"later release", func(r []bot.Record) []bot.Record { r[2].Schema = 2; return r },
			`job job1, record 3: no reader for kind "told" schema 2`},
		{"no schema", func(r []bot.Record) []bot.Record { r[2].Schema = 0; return r },
			`job job1, record 3: no reader for kind "told" schema 0`},
		{"unknown kind", func(r []bot.Record) []bot.Record { r[2].Kind = "sung"; return r },
			`job job1, record 3: no reader for kind "sung" schema 1`},
		{"gap", func(r []bot.Record) []bot.Record { return append(r[:2], r[3:]...) },
			"job job1: record 4 stands at place 3: trail does not fold"},
		{"torn", func(r []bot.Record) []bot.Record { r[2].Data = bad(r[2].Data[:5]); return r },
			"job job1, record 3 (told): unexpected end of JSON input"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := engine.Fold(c.change(append([]bot.Record(nil), recs...)))
			equal(t, c.want, fmt.Sprint(err))
		})
	}
	var unknown *engine.UnknownRecord
	recs[0].Schema = 9
	_, err := engine.Fold(recs)
	yes(t, errors.As(err, &unknown) && unknown.Kind == "heard" && unknown.Schema == 9 && unknown.Seq == 1)
}

// Two stamps out of order must not lock the job for ever.
func TestFoldTakesStampsOutOfOrder(t *testing.T) {
	recs := trail(t, flows.Heard{Text: "a"}, flows.Heard{Text: "b"})
	recs[0].At, recs[1].At = 2000, 1000
	j, err := engine.Fold(recs)
	good(t, err)
	equal(t, int64(2000), j.Last)
}

// An event that is not one of the stored kinds is refused before anything is stored.
func TestEncodeUnknown(t *testing.T) {
	_, err := engine.Encode("job1", 1, 0, "", sung{})
	var unknown *engine.UnknownRecord
	yes(t, errors.As(err, &unknown), err)
}

type sung struct{}

func (sung) Kind() string { return "sung" }
