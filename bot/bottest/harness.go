// Package bottest is the conformance suite of bot.Adapter. Every adapter runs it in its
// own tests against a far side that stands for its chat system; an adapter is right when
// it passes.
package bottest

import (
	"testing"
	"time"

	"halfsplit/bot"
)

// Harness is one adapter that is not running yet, with the far side it talks to. Its
// methods may be called before, during and after Run.
type Harness interface {
	Adapter() bot.Adapter
	// Conversation is where Say speaks and where Seen looks.
	Conversation() bot.ConversationID
	// Say has the person write one message. It does not wait for its delivery.
	Say(t *testing.T, text string)
	// Seen returns what the person was shown so far, in order, without what the person
	// wrote.
	Seen(t *testing.T) []Seen
}

// Seen is a message as the person is shown it.
type Seen struct {
	Text    string
	Choices []string // words or labels offered with it
}

// What a harness can do besides. A check that needs more than the harness has is left
// out.
type (
	// Patient says how long to wait for what must happen; 5 s without it.
	Patient interface{ Patience() time.Duration }
	// Lenient compares a text sent with a text seen, where the adapter lays texts out
	// anew; without it they must be equal.
	Lenient interface{ Same(sent, seen string) bool }
	// Multiliner takes messages of several lines in Say.
	Multiliner interface{ Multiline() bool }
	// Restarter returns a harness with a new adapter on the same far side, as after a
	// restart of the process.
	Restarter interface{ Restart(t *testing.T) Harness }
	// Ender ends the input, after which Run returns by itself.
	Ender interface{ End(t *testing.T) }
	// Presser takes a choice of the last message that offered it.
	Presser interface {
		Press(t *testing.T, c bot.Choice)
	}
	// Redeliverer has the platform deliver the last event a second time.
	Redeliverer interface{ Redeliver(t *testing.T) }
	// Acknowledger counts the events the platform holds for delivered.
	Acknowledger interface{ Acknowledged(t *testing.T) int }
	// Echoer has the platform deliver a message written by the bot's own account.
	Echoer interface {
		Echo(t *testing.T, text string)
	}
	// Dropper cuts the connection; the platform takes a new one.
	Dropper interface{ Drop(t *testing.T) }
	// Limiter refuses the next post and asks for a pause.
	Limiter interface {
		RateLimit(t *testing.T, after time.Duration)
	}
	// Keeper knows the secrets given to the adapter and everything it logged.
	Keeper interface {
		Secrets() []string
		Log() string
	}
)
