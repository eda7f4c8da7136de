package console

import "testing"

// A line of a list that does not fit hangs under its own text.
func TestListHangs(t *testing.T) {
	got := layout("bot", "Tick each:\na  nobody hurt; no gas, smoke or standing water; somebody on site knows where you are\nd  kitchen told", nil)
	want := "bot   Tick each:\n" +
		"      a  nobody hurt; no gas, smoke or standing water; somebody on site knows\n" +
		"         where you are\n" +
		"      d  kitchen told\n"
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
