package engine

import (
	"encoding/json"
	"fmt"

	"halfsplit/bot"
	"halfsplit/flows"
)

// schema is what Encode writes. Decoders of earlier schemas stay for ever: a stored
// record is never rewritten, it is upgraded each time it is read.
const schema = 1

// UnknownRecord says that a record was written by a later release, or by none.
type UnknownRecord struct {
	Job    bot.JobID
	Seq    int
	Kind   string
	Schema int
}

func (e *UnknownRecord) Error() string {
	return fmt.Sprintf("job %s, record %d: no reader for kind %q schema %d", e.Job, e.Seq, e.Kind, e.Schema)
}

// decoder reads the data of one (kind, schema).
type decoder func([]byte) (flows.Event, error)

// as reads data into an event of type E as it stands.
func as[E flows.Event](data []byte) (flows.Event, error) {
	var e E
	if err := json.Unmarshal(data, &e); err != nil {
		return nil, err
	}
	return e, nil
}

// readers returns the decoders of a kind, the one of schema n at n-1. Append only.
func readers(kind string) []decoder {
	switch kind {
	case flows.Heard{}.Kind():
		return []decoder{as[flows.Heard]}
	case flows.Opened{}.Kind():
		return []decoder{as[flows.Opened]}
	case flows.Told{}.Kind():
		return []decoder{as[flows.Told]}
	case flows.Asked{}.Kind():
		return []decoder{as[flows.Asked]}
	case flows.Read{}.Kind():
		return []decoder{as[flows.Read]}
	case flows.Corrected{}.Kind():
		return []decoder{as[flows.Corrected]}
	case flows.Did{}.Kind():
		return []decoder{as[flows.Did]}
	case flows.Moved{}.Kind():
		return []decoder{as[flows.Moved]}
	case flows.Refused{}.Kind():
		return []decoder{as[flows.Refused]}
	case flows.Said{}.Kind():
		return []decoder{as[flows.Said]}
	case flows.Judged{}.Kind():
		return []decoder{as[flows.Judged]}
	case flows.Led{}.Kind():
		return []decoder{as[flows.Led]}
	case flows.Noted{}.Kind():
		return []decoder{as[flows.Noted]}
	case flows.Timed{}.Kind():
		return []decoder{as[flows.Timed]}
	case flows.Failed{}.Kind():
		return []decoder{as[flows.Failed]}
	case flows.Closed{}.Kind():
		return []decoder{as[flows.Closed]}
	default:
		return nil
	}
}

// Encode makes the record of an event: JSON of the newest schema. Events are the
// value types of package flows, not pointers to them.
func Encode(job bot.JobID, seq int, at int64, by flows.PersonID, e flows.Event) (bot.Record, error) {
	if readers(e.Kind()) == nil {
		return bot.Record{}, fmt.Errorf("encode record %d of job %s: %w", seq, job,
			&UnknownRecord{Job: job, Seq: seq, Kind: e.Kind(), Schema: schema})
	}
	data, err := json.Marshal(e)
	if err != nil {
		return bot.Record{}, fmt.Errorf("encode record %d (%s) of job %s: %w", seq, e.Kind(), job, err)
	}
	return bot.Record{Job: job, Seq: seq, Schema: schema, Kind: e.Kind(), At: at, By: bot.PersonID(by), Data: data}, nil
}

// Decode reads the event of a record. Its error is an *UnknownRecord, or says which
// record cannot be read.
func Decode(r bot.Record) (flows.Event, error) {
	known := readers(r.Kind)
	if r.Schema < 1 || r.Schema > len(known) {
		return nil, &UnknownRecord{Job: r.Job, Seq: r.Seq, Kind: r.Kind, Schema: r.Schema}
	}
	e, err := known[r.Schema-1](r.Data)
	if err != nil {
		return nil, fmt.Errorf("job %s, record %d (%s): %w", r.Job, r.Seq, r.Kind, err)
	}
	return e, nil
}
