package safety

import (
	"regexp"
	"strings"
	"unicode"
)

// Kind is a kind of danger that a message speaks of.
type Kind uint8

// The kinds, gravest last.
const (
	NoDanger Kind = iota
	Spark         // no stop, but the proof of dead is lost
	Tingle        // no stop, but nothing that was known holds
	Flood
	Bang
	Arc
	Gas
	Fire // and smoke
	Shock
	Injury
)

// Stops reports whether the danger, if it is now, stops the job.
func (k Kind) Stops() bool { return k >= Flood }

// Grave reports whether only a senior may clear a stop for it: shock, fire, injury.
func (k Kind) Grave() bool { return k >= Fire }

// String gives a short English word.
func (k Kind) String() string {
	return [...]string{"none", "spark", "tingle", "flood", "bang", "arc", "gas", "fire", "shock", "injury"}[min(k, Injury)]
}

// Certainty is how sure it is that the danger is there now.
type Certainty uint8

// The certainties.
const (
	Unsaid Certainty = iota // no word of danger
	Maybe                   // it may only describe: ask, now or describing?
	Now                     // stop at once
)

// sign is a pattern over plain text (see plain) that means danger of a kind.
type sign struct {
	kind Kind
	re   *regexp.Regexp
}

const (
	person  = `(?:he|she|they|someone|somebody|man|guy|cook|chef|mate|helper|apprentice|tech|technician|engineer|colleague|worker|boss|manager|owner|customer|kid|girl|boy|woman|waiter|buddy)`
	adverbs = `(?:(?:just|now|also|really|badly|a|an|another|bit of a|bit of an|big|bad|nasty|good|hell of a|electric|electrical|mild|small|little|slight|massive|right|proper|really|bloody|static) )*`
	shocked = `(?:shock|shocks|shoked|shokced|shcoked|shockd|shocked|electr[io]cuted|elektrocuted|electrecuted|zapped|zap|jolt|jolted|belt|belted|bit|buzzed)`
	limb    = `(?:hand|hands|finger|fingers|thumb|arm|arms|face|eye|eyes|leg|foot|head|wrist|palm)`
)

// present are signs of something that happens now.
var present = []sign{
	{Injury, regexp.MustCompile(` (?:man|person) down `)},
	{Injury, regexp.MustCompile(` ` + person + `(?:s| is| has| went| just went| fell| just fell| has fallen| hit) (?:gone )?down (?:$|here |and |now |help |on the (?:floor|ground) |hes |shes |not |please )`)},
	{Injury, regexp.MustCompile(` (?:unconscious|passed out|blacked out|not breathing|isnt breathing|stopped breathing|cant breathe|no pulse|heart attack|having a seizure|had a seizure|is collapsed|has collapsed|just collapsed) `)},
	{Injury, regexp.MustCompile(` ` + person + `s? (?:has |just |have )*collapsed `)},
	{Injury, regexp.MustCompile(` (?:im|i am|we are|were all) (?:\w+ )?(?:bleeding|injured|hurt) `)},
	{Injury, regexp.MustCompile(` ` + person + `s? (?:is |are |was |am |has |wont |isnt |not )*(?:bleeding|unresponsive|not responding|hurt|injured) `)},
	{Injury, regexp.MustCompile(` (?:im|i am|i got|i have|someone got|somebody got|hes got|hes|shes|someones|somebodys) (?:been )?` + adverbs + `(?:hurt|injured|bleeding|burned|burnt|scalded) `)},
	{Injury, regexp.MustCompile(` (?:burned|burnt|scalded|cut|crushed|smashed|trapped|sliced) (?:my|his|her|their) ` + limb + ` `)},
	{Injury, regexp.MustCompile(` (?:call|get|need|ring|phone|send) (?:for )?(?:an |a |the )?(?:ambulance|paramedics?|911|999|112|doctor) `)},
	{Shock, regexp.MustCompile(` (?:got|get|getting|gets|been|was|were|am|im|took|had|received|felt|gave me|gave him|gave her|giving me|gives me|hes|shes) ` + adverbs + `(?:shock|shocks|shoked|shokced|shcoked|shockd|shocked|electr[io]cuted|elektrocuted|electrecuted|zapped|jolt|jolted|belted|buzzed) `)},
	{Shock, regexp.MustCompile(` (?:got|took|had|gave me|gave him) ` + adverbs + `(?:belt|zap|bit|bite) (?:$|off |from |by )`)},
	{Shock, regexp.MustCompile(` ` + shocked + ` (?:me|him|her|us|them) `)},
	{Shock, regexp.MustCompile(` bit me `)},
	{Shock, regexp.MustCompile(` (?:electr[io]cuted|elektrocuted|electrecuted) `)},
	{Fire, regexp.MustCompile(` (?:on fire|in flames|up in flames|caught fire|catching fire|caught alight|flames|gone up in smoke) `)},
	{Fire, regexp.MustCompile(` (?:theres|there is|we have|weve got|we got|i have|ive got|got|see|is) (?:a |an |some )?(?:\w+ )?fire (?:$|in |at |behind |inside |under |here |now |on |out )`)},
	{Fire, regexp.MustCompile(` (?:its|it is|something is|somethings|unit is|oven is|kitchen is|cord is|plug is|wire is|wires are|cable is|board is|is|are) (?:still |now |actually )?(?:burning|smoking|smouldering|smoldering) (?:$|now |up |inside |in |at |from |and |badly |again )`)},
	{Fire, regexp.MustCompile(` (?:theres|there is|i see|see|seeing|got|lots of|full of|black|white|thick|now) (?:a |some |a lot of |lots of |black |white |thick )*smoke (?:$|now |in |here |everywhere |coming |pouring |from |and )`)},
	{Fire, regexp.MustCompile(` smoke (?:is )?(?:coming|pouring|everywhere|billowing|rising|filling)`)},
	{Fire, regexp.MustCompile(` (?:started|starting|begins|began|starts) (?:smoking|burning|to smoke|to burn) `)},
	{Gas, regexp.MustCompile(` (?:smell|smells|smelling|smelt|smelled|reeks|stinks|stinking|reeking) (?:of |like |some |strong |strongly |a |bit |lot |really |the )*(?:gas|propane|butane|lpg) `)},
	{Gas, regexp.MustCompile(` (?:gas|propane|lpg) (?:smell|odou?r|leak|leaking|leaks|is leaking|is escaping|escaping|hissing|is hissing) `)},
	{Gas, regexp.MustCompile(` (?:smell of|leaking|escaping|hissing) (?:gas|propane|lpg) `)},
	{Arc, regexp.MustCompile(` (?:arc flash|flashover|flashed over|flash over|(?:big|blue|huge|bright|loud) flash|sparks (?:flying|everywhere|coming|came|shooting)|(?:throwing|shooting|spitting) sparks|arced|arcing|arcs) `)},
	{Arc, regexp.MustCompile(` (?:an|big|huge|saw|see) arc (?:$|at |from |across |between |when |and |in |inside |now )`)},
	{Arc, regexp.MustCompile(` (?:its|it is|is|are|still|keeps|kept) sparking `)},
	{Bang, regexp.MustCompile(` (?:explosion|exploded|explodes|exploding|blew up|blown up|went boom|went pop|went bang|goes bang|going bang|(?:loud|big|huge|massive) (?:bang|pop|boom)|(?:a|the) bang) `)},
	{Flood, regexp.MustCompile(` (?:(?:is|its|are|place|kitchen|floor|room|now|just|basement|getting) (?:is |all |now |being )*(?:flooded|flooding)|water (?:is |was |all )*(?:pouring|gushing|everywhere|flooding|rising|spraying|over the floor|coming in|coming through|running down)|standing in water) `)},
	{Tingle, regexp.MustCompile(` (?:felt|feel|feeling|got|get|getting|gave me|gives me|had|its|is|fingers|hand|hands) (?:a |an |some |slight |bit of a |little |are |is |of |kind |sort )*(?:tingle|tingles|tingling|tingly|buzz) `)},
	{Spark, regexp.MustCompile(` (?:saw|see|was|got|made|there was|had|with|big|drew) (?:a |an |some |small |big |little |tiny )*sparks? `)},
	{Spark, regexp.MustCompile(` (?:it|they|that|screwdriver|probe|probes|wire|terminal) (?:just )?sparked `)},
}

// alone are whole messages that are a shout.
var alone = []sign{
	{Fire, regexp.MustCompile(`^ (?:fire|smoke|burning|smoking|flames)(?: fire)* (?:now |help )?$`)},
	{Shock, regexp.MustCompile(`^ (?:an |a )?(?:electric |electrical )?(?:shock|shocked)(?: shock)* $`)},
	{Bang, regexp.MustCompile(`^ (?:big |loud )?(?:bang|boom|explosion) $`)},
	{Arc, regexp.MustCompile(`^ (?:an )?(?:arc|sparks) $`)},
	{Flood, regexp.MustCompile(`^ (?:a )?(?:flood|flooding|flooded) $`)},
	{Gas, regexp.MustCompile(`^ gas gas(?: gas)* $`)},
	{Injury, regexp.MustCompile(`^ (?:hes|shes|mans) down $`)},
}

// words are words that may mean danger or may only describe.
var words = []sign{
	{Injury, regexp.MustCompile(` (?:injur\w*|bleeding|unconscious|collapsed?|ambulance|not responding) `)},
	{Injury, regexp.MustCompile(` (?:he|she|hes|shes|someones|somebodys|cooks|chefs) (?:is |went )?down `)},
	{Shock, regexp.MustCompile(` (?:shock\w*|shoked|electr[io]cut\w*|zap\w*|jolt\w*) `)},
	{Fire, regexp.MustCompile(` (?:fire|fires|fired|firing|flame|flames|flaming|burn|burns|burnt|burned|burning|smoke|smokes|smoked|smoking|smoky|smoulder\w*|smolder\w*) `)},
	{Gas, regexp.MustCompile(` gas $`)},
	{Arc, regexp.MustCompile(` (?:arc|arcs|arced|arcing) `)},
	{Bang, regexp.MustCompile(` (?:bang|bangs|banged|banging|explo[sd]\w*|blew up|boom) `)},
	{Flood, regexp.MustCompile(` (?:flood|floods|flooded|flooding|water (?:leaking|dripping|on the floor|on floor|underneath|under it|inside)) `)},
	{Tingle, regexp.MustCompile(` tingl\w* `)},
	{Spark, regexp.MustCompile(` spark\w* `)},
}

var (
	// past and supposed take the certainty out of a sentence; still puts it back.
	past     = regexp.MustCompile(` (?:yesterday|last (?:night|week|month|year|time|tuesday|summer|winter|visit)|ago|earlier|previous|previously|before (?:i|we|you|my)|used to|this morning|the other day|once|history|on (?:monday|tuesday|wednesday|thursday|friday|saturday|sunday)) `)
	supposed = regexp.MustCompile(` (?:if|could|might|would|in case|can it|may|will it|should|does it|did it|ever|with a|looks like|as if|signs? of|evidence of|traces? of|marks?|marked|shocked (?:to|at|by how|that|how)|arced (?:contact|contacts|terminal|pin)|arcing (?:contact|contacts|horn|horns|time)|arc fault|arc chute|bleeding (?:off|down|resistor)|or just) `)
	still    = regexp.MustCompile(` (?:now|right now|still|again|just|help|this minute|as we speak) `)

	// denied is a danger that a sentence says is not there. Between the denial and the
	// word stand only words that carry the denial on.
	denied = regexp.MustCompile(` (?:no|not|nobody|nobodys|noone|no one|no ones|none|nothing|never|without|isnt|wasnt|arent|werent|didnt|havent|hasnt|dont|doesnt|cant|couldnt|neither|nor|zero|free of|clear of)(?: (?:is|was|are|were|has|have|been|got|get|had|a|an|any|of|the|sign|signs|smell|smells|on|in|here|there|or|and|nor|hurt|injured|shocked|gas|smoke|smoking|burning|fire|flames|sparks|sparking|arc|arcs|arcing|flooding|flooded|bang|shock|shocks|injuries|injury|visible|anybody|anyone|see|seen|hear|heard|saw|felt|feel|more))*? (?:hurt|injured|injuries|injury|bleeding|shock|shocks|shocked|electrocuted|zapped|gas|gas smell|gas leak|smoke|smoking|burning|burnt|burned|fire|flames|spark|sparks|sparking|arc|arcs|arcing|arced|flooding|flooded|flood|bang|bangs|explosion|tingle|tingling|down) `)
	// list is a whole sentence of denials, with commas: "no gas, smoke or water".
	list = regexp.MustCompile(`^ (?:no|nobody|no one|noone|none)(?: (?:is|was|has|been|got|a|an|any|of|sign|signs|smell|or|and|nor|no|hurt|injured|injury|injuries|shocked|gas|smoke|fire|flames|water|standing|flooding|sparks|arc|burning|one|nobody|here|,))*(?: ok| okay| fine| good| ,)* $`)

	stopWord = regexp.MustCompile(`^ (?:please |pls |ok |okay |no |hey |wait |everyone |everybody |guys )*(?:stop|halt|abort|mayday|emergency)(?: stop| now| please| pls| it| everything| this| that| the job| work| working| here| right now| immediately| at once| right there| all)* $`)
)

// Danger says which danger a message speaks of and whether it is there now. Text that
// is dangerous and certain is never taken back by other sentences of the message:
// the gravest certain one wins, then the gravest uncertain one. English only.
func Danger(text string) (Kind, Certainty) {
	var kind Kind
	var sure Certainty
	note := func(k Kind, c Certainty) {
		if c > sure || c == sure && k > kind {
			kind, sure = k, c
		}
	}
	sentences := plain(text)
	if len(sentences) == 1 {
		for _, s := range alone {
			if s.re.MatchString(sentences[0]) {
				note(s.kind, Now)
			}
		}
	}
	for _, s := range sentences {
		if list.MatchString(s) {
			continue
		}
		s = strings.ReplaceAll(s, " , ", " ")
		s = denied.ReplaceAllString(s, " - ")
		weak := !still.MatchString(s) && past.MatchString(s) || supposed.MatchString(s)
		for _, p := range present {
			if p.re.MatchString(s) {
				if weak {
					note(p.kind, Maybe)
				} else {
					note(p.kind, Now)
				}
			}
		}
		for _, p := range words {
			if p.re.MatchString(s) {
				note(p.kind, Maybe)
			}
		}
	}
	return kind, sure
}

// Stop reports whether a sentence of the message says to stop and nothing else.
// English only.
func Stop(text string) bool {
	for _, s := range plain(text) {
		if stopWord.MatchString(strings.ReplaceAll(s, " , ", " ")) {
			return true
		}
	}
	return false
}

// plain returns the sentences of a text in lower case, one blank between words and
// one at each end, commas as words, apostrophes dropped, other marks as blanks.
func plain(text string) []string {
	var out []string
	var b strings.Builder
	flush := func() {
		if words := strings.Fields(b.String()); len(words) > 0 {
			out = append(out, " "+strings.Join(words, " ")+" ")
		}
		b.Reset()
	}
	for _, r := range text {
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(unicode.ToLower(r))
		case r == '\'' || r == '’' || r == '‘' || r == 'ʼ' || r == '`' || r == '´':
		case r == ',':
			b.WriteString(" , ")
		case r == '.' || r == '!' || r == '?' || r == ';' || r == '\n' || r == '…' || r == ':':
			flush()
		default:
			b.WriteByte(' ')
		}
	}
	flush()
	return out
}
