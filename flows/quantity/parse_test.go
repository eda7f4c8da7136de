package quantity_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	. "halfsplit/flows/quantity"
)

var (
	ohms  = Want{Unit: Ohm}
	volts = Want{Unit: Volt}
	amps  = Want{Unit: Amp}
	watts = Want{Unit: Watt}
	free  = Want{}
)

func band(u Unit, lo, hi float64) Want { return Want{Unit: u, Lo: lo, Hi: hi} }

// say gives a result in one line: what was understood, or "? code" with its options.
func say(r Reading, d *Doubt) string {
	if d == nil {
		return r.String()
	}
	s := "? " + string(d.Code)
	for i, o := range d.Options {
		sep := ", "
		if i == 0 {
			sep = ": "
		}
		s += sep + o.String()
	}
	return s
}

func TestParse(t *testing.T) {
	inf := math.Inf(1)
	tests := []struct {
		text string
		want Want
		says string // with a plain space for the no-break space
	}{
		// What people type, as collected for this package.
		{"12", ohms, "12 Ω"},
		{"12.0 ohm", ohms, "12.0 Ω"},
		{"12Ω", ohms, "12 Ω"},
		{"12\u2126", ohms, "12 Ω"}, // OHM SIGN
		{"2.3M", ohms, "2.3 MΩ"},
		{"2M3", ohms, "2.3 MΩ"},
		{"4k7", ohms, "4.7 kΩ"},
		{"R47", ohms, "0.47 Ω"},
		{"0L", ohms, "OL"},
		{"OL", ohms, "OL"},
		{"O.L", ohms, "OL"},
		{"open", ohms, "OL"},
		{"infinite", ohms, "OL"},
		{"dead short", ohms, "short"},
		{"beeps", ohms, "short"},
		{"it beeps", ohms, "short"},
		{"nothing", ohms, "? nothing: OL, 0 Ω"},
		{"nothing", volts, "? nothing: 0 V, OL"},
		{"1", ohms, "? bare one: OL, 1 Ω"},
		{"1.", ohms, "? bare one: OL, 1 Ω"},
		{"1 .", ohms, "? bare one: OL, 1 Ω"},
		{"one", ohms, "? bare one: OL, 1 Ω"},
		{"1", band(Ohm, 0.5, 2), "1 Ω"},
		{"1", band(Ohm, 0.5, inf), "? bare one: OL, 1 Ω"},
		{"1", band(Ohm, 10, 14), "? bare one: OL, 1 Ω"},
		{"1", band(Volt, 0, 5), "? bare one: OL, 1 V"},
		{"1.0", ohms, "1.0 Ω"},
		{"1 ohm", ohms, "1 Ω"},
		{"12ish", ohms, "about 12 Ω"},
		{"12-ish", ohms, "about 12 Ω"},
		{"0,4", ohms, "0.4 Ω"},
		{"208 V", volts, "208 V"},
		{"3.1 A", amps, "3.1 A"},
		{"twelve point five ohms", ohms, "12.5 Ω"},
		{"half an ohm", ohms, "0.5 Ω"},
		{"1 1/2", ohms, "1.5 Ω"},
		{"about 70", ohms, "about 70 Ω"},
		{">40M", ohms, "more than 40 MΩ"},
		{"jumping around", ohms, "unstable"},
		{"1,200", ohms, "? thousand: 1.200 Ω, 1200 Ω"},
		{"12 m", ohms, "? milli or mega: 12 MΩ, 0.012 Ω"},
		{"1,200", band(Ohm, 900, 1500), "1200 Ω"},
		{"1,200", band(Ohm, 1, 2), "1.200 Ω"},
		{"1,200", band(Ohm, 1, 2000), "? thousand: 1.200 Ω, 1200 Ω"},
		{"12 m", band(Ohm, 1e6, inf), "12 MΩ"},
		{"12 m", band(Ohm, 5, 50), "? milli or mega: 12 MΩ, 0.012 Ω"},

		// IEC 60062:2016, marking codes for resistors: the letter R, K, M or G stands for
		// the decimal point. 3V3 and 1V8 are the same style on volts.
		{"4R7", ohms, "4.7 Ω"},
		{"470R", ohms, "470 Ω"},
		{"4K7", ohms, "4.7 kΩ"},
		{"47K3", ohms, "47.3 kΩ"},
		{"2M2", ohms, "2.2 MΩ"},
		{"1G0", ohms, "1.0 GΩ"},
		{"3V3", volts, "3.3 V"},
		{"1V8", volts, "1.8 V"},
		{"4k7Ω", ohms, "4.7 kΩ"},
		{"4k7", free, "4.7 kΩ"},
		{"2m2", ohms, "? milli or mega: 2.2 MΩ, 0.0022 Ω"},
		{"K47", ohms, "? not a number"}, // a contactor
		{"3V3", ohms, "? wrong unit: 3.3 V"},

		// SI prefixes, bare or before the unit.
		{"470k", ohms, "470 kΩ"},
		{"470 kohm", ohms, "470 kΩ"},
		{"470 kOhms", ohms, "470 kΩ"},
		{"470 K", ohms, "470 kΩ"},
		{"㏀ 3", ohms, "? not a number"},
		{"3 ㏁", ohms, "3 MΩ"},
		{"12 mV", volts, "12 mV"},
		{"12 m V", volts, "12 mV"},
		{"5uA", amps, "5 µA"},
		{"5 µA", amps, "5 µA"}, // U+00B5
		{"5 μA", amps, "5 µA"}, // U+03BC
		{"1.2 kW", watts, "1.2 kW"},
		{"2.3 meg", ohms, "2.3 MΩ"},
		{"2.3 megohms", ohms, "2.3 MΩ"},
		{"2.3 mago", ohms, "2.3 MΩ"},
		{"3 milli vaults", volts, "3 mV"},
		{"12 homes", ohms, "12 Ω"},
		{"2.3 Mohm", ohms, "2.3 MΩ"},
		{"2.3 mohm", ohms, "? milli or mega: 2.3 MΩ, 0.0023 Ω"},
		{"2.3m", ohms, "? milli or mega: 2.3 MΩ, 0.0023 Ω"},
		{"2G", volts, "? wrong unit"},
		{"5M", volts, "? milli or mega: 5 mV, 5000 kV"},
		{"2 milliohm", ohms, "0.002 Ω"},
		{"2.3M", band(Ohm, 0, 0.1), "2.3 MΩ"}, // a band never changes a clear answer

		// Over range, with what some meters and fingers make of it.
		{"ol", ohms, "OL"}, {"O L", ohms, "OL"}, {"0 L", ohms, "OL"}, {"0.L", ohms, "OL"}, {"0,L", ohms, "OL"}, {"O/L", ohms, "OL"}, {".OL", ohms, "OL"},
		{"0l", ohms, "OL"}, {"OL.", ohms, "OL"}, {"OL MΩ", ohms, "OL"}, {"over limit", ohms, "OL"}, {"overload", ohms, "OL"}, {"over range", ohms, "OL"},
		{"---", ohms, "OL"}, {"- - -", ohms, "OL"}, {"O/C", ohms, "OL"}, {"inf", ohms, "OL"}, {"∞", ohms, "OL"}, {"open circuit", ohms, "OL"},
		{">999 MΩ", ohms, "more than 999 MΩ"}, {">2G", ohms, "more than 2 GΩ"}, {"> 2 GΩ", ohms, "more than 2 GΩ"},
		{"OL", volts, "OL"}, {"0L", amps, "OL"},
		{"open", volts, "? wrong unit: OL"}, {"beeps", amps, "? wrong unit: short"},
		{"OL V", ohms, "? wrong unit: OL"},
		{"---", volts, "? not a number: OL"},
		{"10L", ohms, "? not a number: OL"},
		{"0.0L", ohms, "? not a number: OL"},
		{"01", ohms, "? not a number: OL"},
		{"OL?", ohms, "? not a number: OL"},

		// Short, zero and low.
		{"short", ohms, "short"}, {"0.0", ohms, "0.0 Ω"}, {"0", ohms, "0 Ω"}, {"zero", ohms, "0 Ω"}, {"<0.1", ohms, "less than 0.1 Ω"},
		{"-0.0", ohms, "0.0 Ω"},
		{"no beep", ohms, "? nothing: OL"}, {"no continuity", ohms, "? nothing: OL"}, {"nil", ohms, "? nothing: OL, 0 Ω"},
		{"no volts", volts, "? nothing: 0 V, OL"},
		{"no reading", ohms, "? nothing: OL, 0 Ω"},

		// Unstable.
		{"jumping between 3 and 40", ohms, "unstable, 3 to 40 Ω"}, {"3 to 40 jumping", ohms, "unstable, 3 to 40 Ω"},
		{"it's all over the place", ohms, "unstable"}, {"won't settle", ohms, "unstable"}, {"fluctuating", volts, "unstable"},
		{"not steady", ohms, "unstable"}, {"steady 12", ohms, "12 Ω"}, {"drifting up", ohms, "unstable"},

		// Decimal marks and groups.
		{"12,5", ohms, "12.5 Ω"}, {"12,50", ohms, "12.50 Ω"}, {"0,400", ohms, "0.400 Ω"}, {"0.200", ohms, "0.200 Ω"}, {".5", ohms, "0.5 Ω"}, {",5", ohms, "0.5 Ω"},
		{"1.200", ohms, "? thousand: 1.200 Ω, 1200 Ω"}, {"1.200 kΩ", ohms, "1200 Ω"}, {"1,234.5", ohms, "1234.5 Ω"}, {"1.234,5", ohms, "1234.5 Ω"},
		{"1,234,567", ohms, "1234567 Ω"}, {"1\u202f200", ohms, "1200 Ω"}, {"1\u00a0200 Ω", ohms, "1200 Ω"}, {"1'200", ohms, "1200 Ω"}, {"1’200", ohms, "1200 Ω"},
		{"12,34,567", ohms, "? not a number"}, {"1.2.3", ohms, "? not a number"}, {"1 200", ohms, "? not a number"}, {". 5", ohms, "? not a number"},
		{"１２．５", ohms, "12.5 Ω"}, {"12\u200bΩ", ohms, "12 Ω"},

		// Signs, bounds, ranges.
		{"-5", ohms, "? negative"}, {"\u22125 ohm", ohms, "? negative"}, {"minus 5", ohms, "? negative"}, {"-12 V", volts, "\u221212 V"},
		{"3-4", ohms, "3 to 4 Ω"}, {"3 to 4", ohms, "3 to 4 Ω"}, {"between 3 and 4 ohms", ohms, "3 to 4 Ω"}, {"3-4k", ohms, "3 to 4 kΩ"},
		{"900 to 1.1k", ohms, "900 Ω to 1.1 kΩ"}, {"12 ± 0.5", ohms, "11.5 to 12.5 Ω"}, {"12 +/- 1", ohms, "11 to 13 Ω"}, {"14-13", ohms, "? not a number"}, {"01,200", ohms, "? thousand: 1.200 Ω, 1200 Ω"}, {"00.5", ohms, "0.5 Ω"}, {"5..5", ohms, "? not a number"}, {"3 to 3", ohms, "? not a number"},
		{"about 5", ohms, "about 5 Ω"}, {"~5", ohms, "about 5 Ω"}, {"<1", ohms, "less than 1 Ω"}, {">200", ohms, "more than 200 Ω"}, {"over 40 meg", ohms, "more than 40 MΩ"},
		{"more than 40M", ohms, "more than 40 MΩ"}, {"40M+", ohms, "more than 40 MΩ"}, {"≥40M", ohms, "more than 40 MΩ"}, {"12?", ohms, "about 12 Ω"}, {"70ish ohms", ohms, "about 70 Ω"}, {"approx. 70", ohms, "about 70 Ω"}, {"12 or so", ohms, "about 12 Ω"},

		// Fractions.
		{"1/2", ohms, "0.5 Ω"}, {"2 1/2", ohms, "2.5 Ω"}, {"½", ohms, "0.5 Ω"}, {"1½", ohms, "1.5 Ω"}, {"12½", ohms, "12.5 Ω"}, {"1/3", ohms, "? not a number"}, {"10²", ohms, "? not a number"},

		// Words, as phones write down speech.
		{"two point three meg", ohms, "2.3 MΩ"}, {"four k seven", ohms, "4.7 kΩ"}, {"two thirty volts", volts, "230 V"}, {"oh point three", ohms, "0.3 Ω"},
		{"two oh eight", volts, "208 V"}, {"two hundred and eight volts", volts, "208 V"}, {"one twenty", volts, "120 V"}, {"four eighty", volts, "480 V"},
		{"one twenty point five", volts, "120.5 V"}, {"one and a half ohms", ohms, "1.5 Ω"}, {"12 and a half", ohms, "12.5 Ω"}, {"a quarter of an ohm", ohms, "0.25 Ω"},
		{"point three", ohms, "0.3 Ω"}, {"12 point 5", ohms, "12.5 Ω"}, {"a hundred ohms", ohms, "100 Ω"}, {"twelve hundred", ohms, "1200 Ω"}, {"two thousand", ohms, "2000 Ω"},
		{"to point three meg", ohms, "2.3 MΩ"}, {"for ohms", ohms, "4 Ω"}, {"too thirty volts", volts, "230 V"}, {"point two five", ohms, "0.25 Ω"}, {"twenty three", ohms, "23 Ω"},
		{"half a meg", ohms, "0.5 MΩ"}, {"one ohm", ohms, "1 Ω"}, {"2.5 and a half", ohms, "? not a number"},

		// Suffixes.
		{"208 VAC", volts, "208 V"}, {"24 VDC", volts, "24 V"}, {"208 V ac", volts, "208 V"}, {"208 V~", volts, "208 V"}, {"24V=", volts, "24 V"}, {"3.1 A rms", amps, "3.1 A"},
		{"60 Hz", volts, "? wrong unit"}, {"21 °C", ohms, "? wrong unit"}, {"208 V", ohms, "? wrong unit: 208 V"}, {"12 ohm", volts, "? wrong unit: 12 Ω"},
		{"12 V", free, "12 V"}, {"12", free, "12"}, {"2.3M", free, "2.3 MΩ"}, {"470k", free, "470 k"},

		// Words around a reading; what is no reading.
		{"I read 13 ohm", ohms, "13 Ω"}, {"it's 12.", ohms, "12 Ω"}, {"reads OL now", ohms, "OL"}, {"\"12\"", ohms, "12 Ω"},
		{"k", ohms, "? not a number"}, {"ok", ohms, "? not a number"}, {"", ohms, "? not a number"}, {"L1 230", volts, "? not a number"}, {"12 13", ohms, "? not a number"},
		{"not 12", ohms, "? not a number"}, {"12 times", ohms, "? not a number"}, {"1e6", ohms, "? not a number"}, {"a few ohms", ohms, "? not a number"},
		{"99999999999999999999", ohms, "? not a number"}, {"O", ohms, "? not a number: OL"},
	}
	for _, tt := range tests {
		r, d := Parse(tt.text, tt.want)
		assert.Equal(t, tt.says, plain(say(r, d)), "%q %v", tt.text, tt.want)
		if d == nil {
			assert.NotEqual(t, Unclear, r.Class, tt.text)
		}
	}
}

// The same texts that a general SI parser, dustin/go-humanize v1.1.0 ParseSI, was
// measured to get wrong without an error: 4000, 2e6, 2, 1 and 0.
func TestParseWhereGeneralParsersFail(t *testing.T) {
	for text, value := range map[string]float64{"4k7": 4700, "2M3": 2.3e6, "2,3 MΩ": 2.3e6, "1/2": 0.5, "0L": math.Inf(1)} {
		r, d := Parse(text, ohms)
		require.Nil(t, d, text)
		assert.Equal(t, value, r.Value(), text)
	}
}

func TestReadingJSON(t *testing.T) {
	for _, text := range []string{"12.0", "2.3M", "OL", "dead short", "jumping between 3 and 40", ">40M", "about 3-4 ohm", "0"} {
		r, d := Parse(text, ohms)
		require.Nil(t, d, text)
		b, err := json.Marshal(r)
		require.NoError(t, err)
		var back Reading
		require.NoError(t, json.Unmarshal(b, &back), string(b))
		assert.Equal(t, r, back, string(b))
	}
	b, err := json.Marshal(Reading{Class: Value, Lo: Decimal{Coef: 4, Exp: 7}, Hi: Decimal{Coef: 4, Exp: 7}, Bound: AtLeast, Unit: Ohm, Text: ">40M"})
	require.NoError(t, err)
	assert.JSONEq(t, `{"class":"value","lo":{"c":4,"e":7},"hi":{"c":4,"e":7},"bound":"at least","unit":"ohm","text":">40M"}`, string(b))
	assert.Error(t, json.Unmarshal([]byte(`{"class":"closed"}`), new(Reading)))
}
