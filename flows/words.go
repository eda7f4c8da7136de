package flows

import (
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// aside is something a person may write at any point whatever was asked.
type aside string

const (
	noAside     aside = ""
	sayWhy      aside = "why"
	sayWhere    aside = "where"
	sayPicture  aside = "picture"
	sayRepeat   aside = "repeat"
	sayCannot   aside = "cannot"
	sayUnsure   aside = "unsure"
	sayUndo     aside = "undo"
	sayNote     aside = "note"
	sayPhoto    aside = "photo"
	sayPause    aside = "pause"
	sayStatus   aside = "status"
	saySenior   aside = "senior"
	sayStop     aside = "stop"
	sayWorks    aside = "works"   // "it works now"
	sayTripped  aside = "tripped" // an unasked switch-on
	sayBridge   aside = "bridge"  // "can i jump the limit"
	sayOrdered  aside = "ordered" // "boss says lift 9"
	saySame     aside = "same"
	sayOkay     aside = "okay"
	sayResume   aside = "resume"
	sayReset    aside = "reset" // "can i reset it"
	sayCoil     aside = "coil"
	sayLeads    aside = "leads"
	sayGreeting aside = "greeting"
	sayHelp     aside = "help"
	sayPropose  aside = "propose" // "can i check 14 to 16"
)

// plain folds a text for comparison: NFKC, lower case, one space between words, no
// full stop, question or exclamation mark at the end.
func plain(text string) string {
	text = strings.ToLower(norm.NFKC.String(text))
	text = strings.NewReplacer("’", "'", "‘", "'", "\u2212", "-", "–", "-").Replace(text)
	text = strings.Join(strings.Fields(text), " ")
	return strings.TrimRight(text, ".!?;, ")
}

// wordsOf splits folded text into words; digits stay with their word.
func wordsOf(text string) []string {
	return strings.FieldsFunc(text, func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' && r != '.' && r != '-' && r != ':'
	})
}

// has says that any of the phrases stands in text as whole words.
func has(text string, phrases ...string) bool {
	padded := " " + strings.Join(wordsOf(text), " ") + " "
	for _, p := range phrases {
		if strings.Contains(padded, " "+strings.Join(wordsOf(p), " ")+" ") {
			return true
		}
	}
	return false
}

// exactly lists what is an aside only if it is the whole message.
func exactly(text string) aside {
	switch text {
	case "why", "why that", "why this", "what for", "how come", "reason", "whats that for", "what's that for":
		return sayWhy
	case "where", "where is it", "where's that", "wheres that", "where is that", "which one":
		return sayWhere
	case "picture", "pic", "drawing", "show me", "diagram", "show", "map":
		return sayPicture
	case "repeat", "again", "say again", "what", "huh", "pardon", "sorry", "say that again", "come again", "what now", "next", "what next", "and now", "now what":
		return sayRepeat
	case "not sure", "unsure", "dunno", "don't know", "dont know", "i don't know", "i dont know", "no idea", "idk", "maybe", "im not sure", "i'm not sure":
		return sayUnsure
	case "undo", "take that back", "scratch that", "wrong number", "that was wrong", "typo", "delete that", "correction", "oops":
		return sayUndo
	case "pause", "brb", "break", "lunch", "hold on", "wait", "back in a minute", "one moment", "going to the van", "need the van":
		return sayPause
	case "resume", "back", "im back", "i'm back", "continue", "go on", "carry on", "ready":
		return sayResume
	case "status", "state", "what is off", "what's off", "whats off", "off now", "list", "where are we", "summary":
		return sayStatus
	case "stuck", "senior", "help me", "i'm stuck", "im stuck", "call someone", "call a senior", "get a senior", "i need help", "need help", "hand over", "handover", "sos":
		return saySenior
	case "help", "?", "commands", "what can i say", "what can i type":
		return sayHelp
	case "stop", "stopp", "halt", "emergency", "abort":
		return sayStop
	case "same", "same again", "same as before", "ditto", "no change", "still the same":
		return saySame
	case "k", "ok", "okay", "kk", "got it", "right", "sure", "alright", "fine", "understood", "roger", "cool", "thanks", "thank you", "thx", "ta", "good":
		return sayOkay
	case "tripped", "trips", "popped", "it popped":
		return sayTripped
	case "hi", "hello", "hey", "morning", "good morning", "hiya", "yo":
		return sayGreeting
	}
	return noAside
}

// asideOf recognises an interruption in any of many wordings. What it does not
// recognise is taken as an answer.
func asideOf(text string) aside {
	if a := exactly(text); a != noAside {
		return a
	}
	if text == "" {
		return noAside
	}
	switch {
	case strings.HasPrefix(text, "note ") || strings.HasPrefix(text, "note: ") || strings.HasPrefix(text, "fyi "):
		return sayNote
	case text == "photo" || has(text, "sending a photo", "sent a photo", "here is a photo", "heres a photo", "take a photo"):
		return sayPhoto
	case has(text, "works now", "it works", "working now", "is working again", "fixed itself", "it's fine now", "its fine now", "runs now", "it heats now"):
		return sayWorks
	case wantsBridge(text):
		return sayBridge
	case proposes(text):
		return sayPropose
	case has(text, "can i", "could i", "should i", "may i", "shall i", "can we", "ok to", "okay to", "is it safe to") &&
		has(text, "reset", "try", "switch", "turn", "flip", "power", "plug", "close"):
		return sayReset
	case has(text, "boss", "manager", "chef", "supervisor", "foreman", "owner") && has(text, "says", "said", "wants", "told me", "tells me", "insists", "orders"):
		return sayOrdered
	case switchedOn(text):
		return sayTripped
	case has(text, "reset it", "try it", "switch it on now", "turn it on", "flip it", "power it up", "just try") && !has(text, "cook", "they", "he", "she"):
		return sayReset
	case has(text, "coil lead off", "coil wire off", "coil off", "coil disconnected") && has(text, "held", "holds", "tripped", "trips"):
		return sayCoil
	case strings.HasPrefix(text, "leads "):
		return sayLeads
	case has(text, "i'm stuck", "im stuck", "get the senior", "call the senior", "talk to a senior", "speak to a senior", "need a senior", "want a senior", "ask a senior", "hand it over", "hand over", "give up"):
		return saySenior
	case cannot(text):
		return sayCannot
	case has(text, "not sure", "no idea", "don't know", "dont know", "confused", "unsure", "don't understand", "dont understand"):
		return sayUnsure
	case strings.HasPrefix(text, "undo ") || has(text, "that was wrong", "i was wrong", "wrong wire", "scratch that", "misread"):
		return sayUndo
	case strings.HasPrefix(text, "where ") || strings.HasPrefix(text, "wheres ") || strings.HasPrefix(text, "where's ") || strings.HasPrefix(text, "which "):
		return sayWhere
	case strings.HasPrefix(text, "why ") || strings.HasPrefix(text, "what for ") || strings.HasPrefix(text, "how does that "):
		return sayWhy
	case has(text, "picture", "diagram", "drawing"):
		return sayPicture
	case has(text, "say again", "repeat that", "repeat it", "what was the question", "what do you want", "what should i"):
		return sayRepeat
	case has(text, "what is off", "what's off", "whats off", "what did i lift", "which wires are off", "what have we", "what is left", "what's left", "whats left"):
		return sayStatus
	case has(text, "be right back", "back in", "going to the van", "go to the van", "need a break", "taking a break", "have to leave", "pause"):
		return sayPause
	}
	return noAside
}

// proposes recognises a reading that a person would rather take.
func proposes(text string) bool {
	_, ok := proposal(text)
	return ok
}

// cannot recognises that a person cannot do what was asked.
func cannot(text string) bool {
	return has(text, "can't", "cant", "cannot", "can not", "couldn't", "couldnt", "unable", "won't come off", "wont come off",
		"no such", "not there", "doesn't exist", "does not exist", "no access", "out of reach", "seized", "stuck screw",
		"there's no", "theres no", "there is no", "don't have", "dont have", "haven't got", "havent got", "not lockable", "no lock") ||
		(strings.HasPrefix(text, "no ") && len(wordsOf(text)) == 2 && text != "no tester" && text != "no part")
}

func wantsBridge(text string) bool {
	return has(text, "jump", "jumper", "bridge", "bypass", "link out", "short out", "jump out", "override", "defeat") &&
		!has(text, "found", "removed", "old", "somebody's", "off")
}

func switchedOn(text string) bool {
	return has(text, "tripped again", "trips again", "popped again", "it tripped", "breaker tripped", "i switched it on", "i turned it on",
		"i reset it", "i flipped it", "switched it back on", "turned it back on", "i tried it", "i powered it", "it went again", "blew again",
		"i put the breaker on", "i closed the breaker", "breaker is on", "power is on", "power's on", "i plugged it in", "plugged it back in")
}

// yesNo reads a plain yes or no.
func yesNo(text string) (yes, known bool) {
	switch text {
	case "yes", "y", "yep", "yeah", "yup", "correct", "it is", "it does", "that's it", "thats it", "affirmative", "true", "yes it does", "yes it is", "ja":
		return true, true
	case "no", "n", "nope", "nah", "negative", "it doesn't", "it does not", "false", "no it doesn't", "no it doesnt", "nein":
		return false, true
	}
	return false, false
}

// denied says that a text says something is not so.
func denied(text string) bool {
	return has(text, "not", "no", "isn't", "isnt", "never", "haven't", "havent", "didn't", "didnt", "without", "can't", "cant", "still to do", "later")
}

// countIn reads how often something was done: "3 times", "twice", "once". It is -1 if
// the text does not say.
func countIn(text string) int {
	words := wordsOf(text)
	if has(text, "not reset", "no reset", "no resets", "never reset", "didn't reset", "not at all", "none", "never") {
		return 0
	}
	named := []string{"zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	for i, w := range words {
		switch w {
		case "once":
			return 1
		case "twice":
			return 2
		}
		follows := i+1 < len(words) && slices.Contains([]string{"times", "time", "x", "resets", "tries", "goes"}, words[i+1])
		if strings.HasSuffix(w, "x") {
			w, follows = strings.TrimSuffix(w, "x"), true
		}
		n, err := strconv.Atoi(w)
		if at := slices.Index(named, w); at >= 0 {
			n, err = at, nil
		}
		if err == nil && n >= 0 && n < 100 && (follows || len(words) == 1) {
			return n
		}
	}
	return -1
}
