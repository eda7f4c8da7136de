package engine_test

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"halfsplit/bot"
	"halfsplit/store/memory"
)

func TestSendErrors(t *testing.T) {
	once := func(err error) func(bot.Outgoing) error {
		return func(bot.Outgoing) error {
			e := err
			err = nil
			return e
		}
	}
	for _, c := range []struct {
		name    string
		fail    func(bot.Outgoing) error
		after   time.Duration // how long until both messages are posted
		texts   []string
		attempt int // of the second call
	}{
		{"rate limit", once(&bot.RateLimit{After: 20 * time.Second}), 20 * time.Second, []string{"heard one", "heard two"}, 1},
		{"unknown delivery", once(&bot.UnknownDelivery{Err: errors.New("cut off")}), time.Second, []string{"heard one", "heard two"}, 2},
		{"other", once(errors.New("down")), time.Second, []string{"heard one", "heard two"}, 1},
		{"permanent", once(&bot.Permanent{Err: errors.New("room is gone")}), 0, []string{"heard two"}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := set(t, memory.New(), nil)
				b.room.fail = c.fail
				defer b.run()()
				start := time.Now()
				b.hear("k1", "one")
				b.hear("k2", "two")
				b.settled()
				equal(t, c.texts, b.room.texts(), "in order")
				near(t, c.after.Seconds(), time.Since(start).Seconds(), 1.01)
				equal(t, c.attempt, b.room.calls[1].Attempt)
			})
		})
	}
}

// What an earlier process claimed and did not report may have been posted.
func TestLeaseOfADeadProcess(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		b.room.fail = func(bot.Outgoing) error { return errors.New("down") }
		stop := b.run()
		b.hear("k1", "one")
		synctest.Wait()
		stop()
		now := time.Now().UnixMilli()
		time.Sleep(2 * time.Second)
		_, err := b.store.Claim(t.Context(), "room", "dead", time.Now().UnixMilli(), now+30_000)
		good(t, err)
		b = set(t, b.store, nil)
		defer b.run()()
		start := time.Now()
		b.settled()
		near(t, 28, time.Since(start).Seconds(), 1.01, "the lease is respected")
		equal(t, []string{"heard one"}, b.room.texts())
		yes(t, b.room.posted[0].Attempt > 1)
	})
}

func TestLongTextIsSplit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := set(t, memory.New(), nil)
		b.room.limits = bot.Limits{Runes: 30}
		defer b.run()()
		b.hear("k1", "the breaker goes as soon as I flip the switch on the front")
		b.settled()
		equal(t, []string{"heard the breaker goes as soon", "as I flip the switch on the", "front\n[yes · no]"}, b.room.texts())
		equal(t, 0, b.room.posted[0].Prompt)
		equal(t, 3, b.room.posted[2].Prompt)
		equal(t, 0, len(b.room.posted[2].Choices))
		equal(t, "job1/4/3", b.room.posted[2].Key)
	})
}
