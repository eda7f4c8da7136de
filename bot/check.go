package bot

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
)

// ErrInvalid marks a value that breaks the contract of this package. It is a fault of
// the program that made the value, and nothing is stored of it.
var ErrInvalid = errors.New("invalid value")

// Check reports what a store needs to know about an incoming event and does not find.
// An empty key is refused, since every later event with one would pass for a redelivery.
func (m Incoming) Check() error {
	switch {
	case m.Adapter == "":
		return fmt.Errorf("%w: incoming event without adapter", ErrInvalid)
	case m.Conversation == "":
		return fmt.Errorf("%w: incoming event without conversation", ErrInvalid)
	}
	for _, k := range m.Keys {
		if k == "" {
			return fmt.Errorf("%w: incoming event with an empty key", ErrInvalid)
		}
	}
	return nil
}

// Check reports the first part of a commit that does not fit the rest: a gap in the
// sequence, another job's record, an answer to a record that is not there, a message
// without key or place.
func (c Commit) Check() error {
	if c.Job == "" {
		return fmt.Errorf("%w: commit without job", ErrInvalid)
	}
	if c.Version < 1 {
		return fmt.Errorf("%w: commit to job %s on version %d", ErrInvalid, c.Job, c.Version)
	}
	for i, r := range c.Records {
		if r.Job != "" && r.Job != c.Job {
			return fmt.Errorf("%w: commit to job %s holds a record of job %s", ErrInvalid, c.Job, r.Job)
		}
		if want := c.Version + 1 + i; r.Seq != want {
			return fmt.Errorf("%w: commit to job %s: record %d has seq %d, want %d", ErrInvalid, c.Job, i, r.Seq, want)
		}
	}
	if last := c.Version + len(c.Records); c.Answered < 0 || c.Answered > last {
		return fmt.Errorf("%w: commit to job %s answers seq %d, the trail ends at %d", ErrInvalid, c.Job, c.Answered, last)
	}
	for _, m := range c.Outbox {
		if m.Key == "" || m.Adapter == "" || m.Conversation == "" {
			return fmt.Errorf("%w: commit to job %s: message without key, adapter or conversation", ErrInvalid, c.Job)
		}
	}
	for _, tm := range c.Timers {
		if tm.Name == "" || tm.Due < 0 || tm.Job != "" && tm.Job != c.Job {
			return fmt.Errorf("%w: commit to job %s: timer %q of job %q due %d", ErrInvalid, c.Job, tm.Name, tm.Job, tm.Due)
		}
	}
	return nil
}

// BlobHash is the name under which a store keeps content: its SHA-256 in lower-case hex.
func BlobHash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// CheckBlob reports content that does not have the hash it is given under.
func CheckBlob(hash string, data []byte) error {
	if got := BlobHash(data); got != hash {
		return fmt.Errorf("%w: content has hash %s, not %s", ErrInvalid, got, hash)
	}
	return nil
}
