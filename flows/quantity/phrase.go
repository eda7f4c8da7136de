package quantity

import "strings"

// phraseKind is what a text says that is a reading but no number.
type phraseKind uint8

const (
	noPhrase     phraseKind = iota
	display                 // what a meter shows beyond its range: OL
	noPath                  // "open", "infinite": said of ohms only
	path                    // "dead short", "beeps"
	moving                  // "jumping around"
	nothing                 // asked back: zero or OL
	noBeep                  // asked back: not a short, but no number either
	dashes                  // "---": OL on ohms, asked elsewhere
	unclearOL               // might be OL, asked
	leadingZeros            // "01": 0L or one
)

// Keys are lower case without spaces, points, slashes, hyphens and apostrophes.
var phrases = map[string]phraseKind{
	"ol": display, "0l": display, "olimit": display, "overlimit": display, "overload": display, "overloaded": display,
	"overrange": display, "outofrange": display, "offscale": display, "offthescale": display, "ovl": display, "ovld": display,
	"open": noPath, "opencircuit": noPath, "opened": noPath, "openline": noPath, "wideopen": noPath, "oc": noPath,
	"inf": noPath, "infinite": noPath, "infinity": noPath, "infinate": noPath, "infiniteohms": noPath, "infiniteresistance": noPath, "∞": noPath,
	"deadshort": path, "short": path, "shorted": path, "shortcircuit": path, "deadshorted": path,
	"beep": path, "beeps": path, "beeped": path, "beeping": path, "buzzes": path, "buzz": path, "buzzing": path,
	"continuity": path, "hascontinuity": path, "goodcontinuity": path, "tone": path, "chirps": path,
	"nothing": nothing, "nothingatall": nothing, "nothingthere": nothing, "nothingyet": nothing, "none": nothing, "nada": nothing, "zip": nothing, "nil": nothing,
	"blank": nothing, "noreading": nothing, "noreadings": nothing, "nodisplay": nothing, "nonumber": nothing, "dead": nothing,
	"novolts": nothing, "novoltage": nothing, "nopower": nothing, "nocurrent": nothing, "noamps": nothing, "noohms": nothing, "noresistance": nothing,
	"nobeep": noBeep, "notone": noBeep, "nocontinuity": noBeep, "doesntbeep": noBeep, "doesnotbeep": noBeep, "notbeeping": noBeep, "noshort": noBeep, "notshorted": noBeep, "wontbeep": noBeep, "didntbeep": noBeep,
	"unstable": moving, "unsteady": moving,
	"0i": unclearOL, "oi": unclearOL, "o1": unclearOL, "o": unclearOL, "oh": unclearOL, "l": unclearOL, "0|": unclearOL, "o|": unclearOL,
}

// fillers are words around a reading that say nothing about it.
var fillers = map[string]bool{
	"i": true, "i'm": true, "im": true, "i've": true, "read": true, "reads": true, "reading": true, "readings": true,
	"got": true, "get": true, "getting": true, "gets": true, "have": true, "has": true,
	"it": true, "it's": true, "its": true, "is": true, "was": true, "shows": true, "showing": true, "show": true,
	"says": true, "saying": true, "meter": true, "measured": true, "measure": true, "measures": true,
	"the": true, "that's": true, "thats": true, "that": true, "now": true, "still": true, "just": true,
	"see": true, "seeing": true, "ok": true, "okay": true, "yes": true, "yep": true, "yeah": true, "so": true, "well": true,
	"um": true, "uh": true, "steady": true, "stable": true, "exactly": true, "value": true, "please": true, "thanks": true,
	"here": true, "there": true, "straight": true, "hmm": true, "solid": true, "and": true, "then": true,
}

// marks may stand around a reading without meaning.
const marks = ".!;:,=\"'`*()?"

// trim takes fillers and marks off both ends. unsure is set by a question mark.
func trim(toks []token) (rest []token, unsure bool) {
	idle := func(t token) bool {
		if t.kind == sign && t.text == "?" {
			unsure = true
		}
		return t.kind == sign && strings.Contains(marks, t.text) || t.kind == sign && t.text == ".." || t.kind == word && fillers[t.lower]
	}
	// A point or comma before a number may belong to it: ". 5", "..5".
	for len(toks) > 0 && idle(toks[0]) && toks[0].text != "." && toks[0].text != "," && toks[0].text != ".." {
		toks = toks[1:]
	}
	for len(toks) > 0 && idle(toks[len(toks)-1]) {
		// "V =" is direct voltage, "it's 12." is not.
		n := len(toks) - 1
		if n > 0 && (toks[n].text == "=" && toks[n-1].kind == word && toks[n].glued || toks[n].lower == "so" && toks[n-1].lower == "or") {
			break
		}
		toks = toks[:n]
	}
	return toks, unsure
}

// unmarked takes marks off the end.
func unmarked(toks []token) []token {
	for len(toks) > 0 && toks[len(toks)-1].kind == sign && strings.Contains(".!,;", toks[len(toks)-1].text) {
		toks = toks[:len(toks)-1]
	}
	return toks
}

// compact joins tokens as the keys of phrases are written.
func compact(toks []token) string {
	var b strings.Builder
	for _, t := range toks {
		for _, r := range t.lower {
			if !strings.ContainsRune(".,/-'–_", r) {
				b.WriteRune(r)
			}
		}
	}
	return b.String()
}

// phraseOf finds out whether the tokens say a phrase, with the unit typed after it.
func phraseOf(toks []token) (kind phraseKind, s suffix) {
	if len(toks) == 0 || len(toks) > 6 {
		return noPhrase, s
	}
	if kind := dashed(toks); kind != noPhrase {
		return kind, s
	}
	for cut := len(toks); cut > 0 && cut >= len(toks)-2; cut-- {
		kind, ok := phrases[compact(toks[:cut])]
		if !ok {
			continue
		}
		if cut == len(toks) {
			return kind, s
		}
		s, next := readSuffixes(toks, cut)
		if next == len(toks) && (kind == display || kind == noPath) {
			return kind, s
		}
	}
	if t := toks[0]; len(toks) == 1 && t.kind == number && len(t.text) > 1 && t.text[0] == '0' && plainDigits(t.text) {
		return leadingZeros, s
	}
	return noPhrase, s
}

// dashed recognises a display of dashes: three or more of them.
func dashed(toks []token) phraseKind {
	for _, t := range toks {
		if t.text != "-" {
			return noPhrase
		}
	}
	if len(toks) >= 3 {
		return dashes
	}
	return noPhrase
}

var movingWords = map[string]bool{
	"jumping": true, "jumps": true, "jumpy": true, "jumped": true, "bouncing": true, "bounces": true,
	"fluctuating": true, "fluctuates": true, "unstable": true, "unsteady": true, "drifting": true, "drifts": true,
	"flickering": true, "flickers": true, "erratic": true, "wandering": true, "wanders": true, "changing": true, "changes": true,
	"moving": true, "climbing": true, "climbs": true, "rising": true, "rises": true, "falling": true, "falls": true,
	"dropping": true, "drops": true, "counting": true, "swinging": true, "swings": true,
}

// movingFill are the words that may stand beside movingWords; the rest of such a text
// must be the numbers between which the reading moves.
var movingFill = map[string]bool{
	"around": true, "all": true, "over": true, "place": true, "up": true, "down": true, "a": true, "lot": true, "keeps": true, "keep": true,
	"bit": true, "about": true, "wildly": true, "slowly": true, "fast": true, "constantly": true, "very": true, "too": true, "much": true,
	"like": true, "crazy": true, "numbers": true, "number": true, "they": true, "are": true, "on": true, "won't": true, "of": true, "can't": true,
	"between": true, "from": true, "always": true, "really": true, "quite": true, "me": true, "tell": true, "to": true, "back": true, "forth": true,
}

// movingPhrases are matched in the words of a text joined with single spaces.
var movingPhrases = [...]string{
	"all over the place", "up and down", "won't settle", "wont settle", "doesn't settle", "not settle", "never settles", "not settling",
	"not steady", "not stable", "isn't steady", "isn't stable", "won't hold still", "not holding",
}

// movement recognises an unstable reading. rest is what remains when the words for it
// are taken out.
func movement(toks []token) (rest []token, ok bool) {
	words := make([]string, 0, len(toks))
	for _, t := range toks {
		if t.kind == word {
			words = append(words, t.lower)
			ok = ok || movingWords[t.lower]
		}
	}
	said := strings.Join(words, " ")
	inPhrase := map[string]bool{}
	for _, p := range movingPhrases {
		if strings.Contains(said, p) {
			ok = true
			for _, w := range strings.Fields(p) {
				inPhrase[w] = true
			}
		}
	}
	if !ok {
		return nil, false
	}
	for _, t := range toks {
		drop := t.kind == word && (movingWords[t.lower] || inPhrase[t.lower] || movingFill[t.lower] && t.lower != "to" || fillers[t.lower] && t.lower != "and")
		if !drop && !(t.kind == sign && strings.Contains(marks, t.text)) {
			rest = append(rest, t)
		}
	}
	for len(rest) > 0 && (rest[0].lower == "to" || rest[0].lower == "and") {
		rest = rest[1:]
	}
	for len(rest) > 0 && (rest[len(rest)-1].lower == "to" || rest[len(rest)-1].lower == "and") {
		rest = rest[:len(rest)-1]
	}
	return rest, true
}
