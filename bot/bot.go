// Package bot is the vocabulary of the conversation and the ports through which
// chat systems and stores are reached. It imports the standard library only; the
// dialog behind it is unknown here.
package bot

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Identifiers are opaque strings and are stored: their format is an interface.
type (
	JobID          string // made by the engine
	PersonID       string // "adapter:platform-id", made by the adapter
	ConversationID string // one thread or room or terminal; made and read by the adapter
	EventID        string // one incoming event; equal on redelivery; made by the adapter
	MessageRef     string // a posted message; made and read by the adapter only
)

// Incoming is one thing a person did: wrote, or chose.
type Incoming struct {
	Adapter      string // Adapter.Name
	Conversation ConversationID
	Person       PersonID
	Keys         []EventID // any one seen before makes this a redelivery
	Text         string    // what was typed; may be empty when Choice is set
	Choice       string    // value of the Choice taken, empty if typed
	Prompt       int       // Seq of the prompt the choice belongs to; zero if typed
	SentAt       int64     // when the person sent it, as far as the platform tells; ms UTC; zero: not known
	Files        []File
}

// File is a photo or other attachment that came with a message.
type File struct {
	Name string
	Type string // media type
	Data []byte
}

// Choice is one offered answer. Word is what may be typed instead of tapping.
type Choice struct {
	Word  string `json:"word"`
	Label string `json:"label"`
	Value string `json:"value"`
}

// Outgoing is one message to be posted, already degraded to what the adapter can do.
type Outgoing struct {
	Key          string // job/seq/n: the idempotency key
	Job          JobID
	Adapter      string
	Conversation ConversationID
	Text         string
	Choices      []Choice
	Prompt       int // Seq of the prompt that Choices answer
	Attempt      int // times it was claimed, from 1
}

// Limits says what an adapter can post.
type Limits struct {
	Runes   int // longest text; zero: no limit
	Choices int // most choices shown as buttons; zero: none, they are written as words
}

// Adapter connects one chat system. Methods may be called from several goroutines.
type Adapter interface {
	// Name is stable and part of stored identifiers.
	Name() string
	// Run delivers incoming events until ctx ends, then returns nil with nothing
	// left running. It acknowledges an event to the platform only after Receive
	// returned nil for it.
	Run(ctx context.Context, in Receiver) error
	// Send posts m and returns where it stands. Its error is one of RateLimit,
	// UnknownDelivery, Permanent, the context's, or another, which means try again.
	Send(ctx context.Context, m Outgoing) (MessageRef, error)
	// Limits are constant.
	Limits() Limits
}

// Receiver takes incoming events. A nil error means: stored, may be acknowledged.
// Receiving the same event again is harmless and nil.
type Receiver interface {
	Receive(ctx context.Context, m Incoming) error
}

// Settler is an optional interface of a Receiver: Settled blocks until everything
// received so far in the conversation has been answered and the answers were sent.
// An adapter fed from a pipe uses it to keep lockstep.
type Settler interface {
	Settled(ctx context.Context, c ConversationID) error
}

// Record is one entry of a job's trail. Data is JSON.
type Record struct {
	Job    JobID
	Seq    int // from 1, without gaps
	Schema int
	Kind   string
	At     int64 // ms UTC
	By     PersonID
	Data   []byte
}

// Timer asks for an event at a time. There is one per (Job, Name); setting it again
// replaces it, Due zero removes it.
type Timer struct {
	Job  JobID
	Name string
	Due  int64 // ms UTC
}

// Heard is what Hear stores of an incoming event, with the job and place it belongs to.
type Heard struct {
	Job    JobID
	Seq    int // of the heard record
	Fresh  bool
	Record Record
}

// JobInfo is what a list of jobs shows.
type JobInfo struct {
	Job          JobID
	Adapter      string
	Conversation ConversationID
	Opened       int64
	Last         int64
	Version      int // Seq of the last record
	Answered     int // Seq of the last heard or timed record that a commit has answered
	Closed       bool
}

// Commit is the outcome of one step: it is written whole or not at all, and only if
// the job's last record is Version.
type Commit struct {
	Job      JobID
	Version  int      // Seq of the last record the step was computed from
	Answered int      // Seq of the last heard record the step has dealt with
	Records  []Record // Seq Version+1 onwards
	Outbox   []Outgoing
	Timers   []Timer
	Fired    []string // names of timers that this commit consumes
	Closed   bool     // the job is over: its conversation may open another
}

// Store keeps jobs, their trails, the outbox and the timers.
//
// Both write paths (Hear and Commit) are one transaction each. Times are ms UTC.
type Store interface {
	// Hear records an incoming event in the open job of its conversation, opening
	// one with the given fresh id if there is none, and remembers its keys. It
	// returns ErrSeen, and changes nothing, if any key was seen before.
	// The heard record gets the next Seq of the job. Heard never conflicts: it is
	// how a job grows between a step's Load and its Commit.
	Hear(ctx context.Context, m Incoming, fresh JobID, rec Record) (Heard, error)
	// Load returns the whole trail in order; ErrNotFound if there is no such job.
	Load(ctx context.Context, job JobID) ([]Record, error)
	// Info returns the job's entry; ErrNotFound if there is none.
	Info(ctx context.Context, job JobID) (JobInfo, error)
	// Jobs lists jobs, the latest opened first.
	Jobs(ctx context.Context) ([]JobInfo, error)
	// Unanswered lists open and closed jobs with a heard record after Answered.
	Unanswered(ctx context.Context) ([]JobID, error)
	// Commit writes c; ErrConflict, and nothing written, if the trail has grown.
	Commit(ctx context.Context, c Commit) error
	// Claim leases the oldest unsent message of the adapter that is not leased and
	// has no earlier unsent one in its conversation; ErrNotFound if there is none.
	// The lease ends at until.
	Claim(ctx context.Context, adapter, owner string, now, until int64) (Outgoing, error)
	// Sent marks a claimed message posted; it is never claimed again.
	Sent(ctx context.Context, key string, ref MessageRef) error
	// Retry gives a claimed message back, not to be claimed before at.
	Retry(ctx context.Context, key string, at int64) error
	// Drop gives up a message, so that later ones are unblocked.
	Drop(ctx context.Context, key, why string) error
	// Unsent counts messages of a conversation that are neither sent nor dropped.
	Unsent(ctx context.Context, c ConversationID) (int, error)
	// Due lists timers due at or before now, earliest first.
	Due(ctx context.Context, now int64) ([]Timer, error)
	// PutBlob keeps content by its hash (hex SHA-256); putting it again is harmless.
	PutBlob(ctx context.Context, hash string, data []byte) error
	// Blob returns content by hash; ErrNotFound if there is none.
	Blob(ctx context.Context, hash string) ([]byte, error)
	// Close ends use of the store.
	Close() error
}

// Errors to decide on with errors.Is.
var (
	ErrSeen     = errors.New("event was received before")
	ErrConflict = errors.New("job has changed meanwhile")
	ErrNotFound = errors.New("not found")
)

// RateLimit is returned by Send when the platform asks for a pause.
type RateLimit struct{ After time.Duration }

func (e *RateLimit) Error() string { return fmt.Sprintf("rate limited for %v", e.After) }

// UnknownDelivery is returned by Send when the message may or may not have been posted.
type UnknownDelivery struct{ Err error }

func (e *UnknownDelivery) Error() string { return "delivery not known: " + e.Err.Error() }

// Unwrap returns the cause.
func (e *UnknownDelivery) Unwrap() error { return e.Err }

// Permanent is returned by Send when trying again cannot help.
type Permanent struct{ Err error }

func (e *Permanent) Error() string { return "cannot be delivered: " + e.Err.Error() }

// Unwrap returns the cause.
func (e *Permanent) Unwrap() error { return e.Err }
