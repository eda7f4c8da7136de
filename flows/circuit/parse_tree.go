package circuit

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// spot is a place in a unit file. Lines and columns start at 1; a column is a
// character, not a byte.
type spot struct {
	line, col int
	of        string // the repetition that it is read for, "deck 2"; else empty
}

// shape is what a value in a unit file looks like.
type shape uint8

const (
	absent shape = iota // a key with nothing after it
	scalar
	list
	mapping
)

// value is one value of a unit file with its place. A scalar is its source text,
// never a number or a truth value, so that 014 and 1E2 stay names.
type value struct {
	spot
	shape  shape
	text   string
	plain  bool   // the text stands in one line at spot exactly as it is in the file
	raw    string // in a repeat: the text with its placeholders
	cuts   []cut
	items  []value
	fields []field
}

// field is one key of a mapping.
type field struct {
	spot
	key string
	value
}

// reader collects what is wrong with a unit file.
type reader struct {
	file     string
	lines    []string
	problems []Problem
	said     []said // one for each of problems
	refused  []spot // values refused as a whole: nothing more is said about them
}

// said is a problem without and with the repetition it was found in.
type said struct{ found, of string }

// maxFile is the greatest size of a unit file in bytes; a 300-part unit takes 60 kB.
const maxFile = 1 << 20

// complain records a problem.
func (r *reader) complain(at spot, write string, found string, args ...any) {
	if slices.ContainsFunc(r.refused, func(o spot) bool { return o.line == at.line && o.col == at.col }) {
		return
	}
	text := fmt.Sprintf(found, args...)
	r.said = append(r.said, said{text, at.of})
	if at.of != "" {
		text += " (" + at.of + ")"
	}
	r.problems = append(r.problems, Problem{File: r.file, Line: max(at.line, 1), Col: max(at.col, 1), Found: text, Write: write})
}

// tree reads YAML down to a tree of values. ok is false if nothing can be read at all.
func (r *reader) tree(src []byte) (root value, ok bool) {
	if len(src) > maxFile {
		r.complain(spot{line: 1, col: 1}, "one unit file per model, below 1 MB", "the file has %d bytes", len(src))
		return value{}, false
	}
	text := string(src)
	if at, bad := firstBadByte(text); bad {
		r.complain(at, "the file saved as UTF-8", "a byte that is not UTF-8 text")
		return value{}, false
	}
	text = strings.TrimPrefix(text, "\ufeff")
	r.lines = strings.Split(text, "\n")
	usable := true
	for i, line := range r.lines {
		line = strings.TrimSuffix(line, "\r")
		for col, c := range []rune(line) {
			switch {
			case c == '\t':
				r.complain(spot{line: i + 1, col: col + 1}, "spaces", "a tab")
			case c < ' ' || c == 0x7f || c == '\u0085' || c == '\u2028' || c == '\u2029' || c == '\ufeff' || c == '\r':
				r.complain(spot{line: i + 1, col: col + 1}, "text without control characters", "the control character %U", c)
			default:
				continue
			}
			usable = false
			break
		}
	}
	if !usable {
		return value{}, false
	}
	file, err := parseYAML(text)
	if err != nil {
		at, why := spot{line: 1, col: 1}, err.Error()
		var syntax yaml.Error
		if errors.As(err, &syntax) {
			why = syntax.GetMessage()
			if tk := syntax.GetToken(); tk != nil && tk.Position != nil {
				at = spot{line: tk.Position.Line, col: tk.Position.Column}
			}
		}
		r.complain(r.within(at), "the line as in the example of testdata/units/README.md; quote text that has a colon and a space, #, or starts with a special character",
			"this is not readable as YAML: %s", why)
		return value{}, false
	}
	var bodies []ast.Node
	for _, doc := range file.Docs {
		if doc.Body != nil {
			bodies = append(bodies, doc.Body)
		}
	}
	switch len(bodies) {
	case 0:
		r.complain(spot{line: 1, col: 1}, "unit: and the name of the unit first", "the file is empty")
		return value{}, false
	case 1:
	default:
		r.complain(r.spotOf(bodies[1]), "one unit a file, without ---", "a second document")
	}
	root = r.value(bodies[0], 0)
	if root.shape != mapping {
		r.complain(root.spot, "unit: and the name of the unit first, then the other keys", "no keys at the top of the file")
		return value{}, false
	}
	r.repeats(&root)
	return root, true
}

// parseYAML calls the YAML parser. The parser is not ours: should a strange text make
// it panic, that is an error like any other.
func parseYAML(text string) (file *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			file, err = nil, errors.New("the text is too confused to read")
		}
	}()
	return parser.ParseBytes([]byte(text), 0, parser.AllowDuplicateMapKey())
}

// firstBadByte finds the first byte that is not UTF-8.
func firstBadByte(text string) (spot, bool) {
	at := spot{line: 1, col: 1}
	for i, c := range text {
		if c == utf8.RuneError {
			if _, size := utf8.DecodeRuneInString(text[i:]); size == 1 {
				return at, true
			}
		}
		at.col++
		if c == '\n' {
			at = spot{line: at.line + 1, col: 1}
		}
	}
	return spot{}, false
}

// within moves a place that the parser put outside the file back into it.
func (r *reader) within(at spot) spot {
	at.line = min(max(at.line, 1), max(len(r.lines), 1))
	at.col = max(at.col, 1)
	return at
}

func (r *reader) spotOf(n ast.Node) spot {
	if n == nil {
		return spot{line: 1, col: 1}
	}
	switch n := n.(type) {
	case *ast.MappingNode:
		if !n.IsFlowStyle && len(n.Values) > 0 && n.Values[0].Key != nil {
			return r.spotOf(n.Values[0].Key)
		}
	case *ast.MappingValueNode:
		if n.Key != nil {
			return r.spotOf(n.Key)
		}
	}
	if tk := n.GetToken(); tk != nil && tk.Position != nil {
		return r.within(spot{line: tk.Position.Line, col: tk.Position.Column})
	}
	return spot{line: 1, col: 1}
}

// maxDepth is how deep values may nest; a unit file needs five levels.
const maxDepth = 12

func (r *reader) value(n ast.Node, depth int) value {
	v := value{spot: r.spotOf(n), shape: scalar}
	if depth > maxDepth {
		r.complain(v.spot, "fewer levels", "values nested more than %d deep", maxDepth)
		return v
	}
	switch n := n.(type) {
	case nil:
		v.shape = absent
	case *ast.MappingNode:
		v.shape = mapping
		for _, f := range n.Values {
			r.field(&v, f, depth)
		}
	case *ast.MappingValueNode:
		v.shape = mapping
		r.field(&v, n, depth)
	case *ast.SequenceNode:
		v.shape = list
		for _, item := range n.Values {
			v.items = append(v.items, r.value(item, depth+1))
		}
	case *ast.AnchorNode:
		r.complain(v.spot, "the value itself", "an anchor (&)")
		r.refused = append(r.refused, v.spot)
	case *ast.AliasNode:
		r.complain(v.spot, "the value itself, or quote the text", "an alias (*)")
		r.refused = append(r.refused, v.spot)
	case *ast.TagNode:
		r.complain(v.spot, "the value without it, or quote the text", "a tag (!)")
		r.refused = append(r.refused, v.spot)
	case *ast.DirectiveNode:
		r.complain(v.spot, "the file without it", "a directive (%%)")
	case *ast.NullNode:
		v.text = strings.TrimSpace(n.GetToken().Origin)
		if v.text == "" || !strings.HasPrefix(r.rest(v.spot), v.text) { // the parser's own word for nothing
			v.text, v.shape = "", absent
		}
	case *ast.LiteralNode:
		if n.Value != nil {
			v.text = strings.TrimSpace(n.Value.GetToken().Value)
		}
	default:
		if tk := n.GetToken(); tk != nil {
			v.text = strings.TrimSpace(tk.Value)
		}
		v.plain = strings.HasPrefix(r.rest(v.spot), v.text)
	}
	return v
}

// rest is the source line from the given place on.
func (r *reader) rest(at spot) string {
	if at.line > len(r.lines) {
		return ""
	}
	line := []rune(r.lines[at.line-1])
	if at.col > len(line) {
		return ""
	}
	return string(line[at.col-1:])
}

func (r *reader) field(v *value, n *ast.MappingValueNode, depth int) {
	f := field{spot: r.spotOf(n.Key)}
	switch key := n.Key.(type) {
	case *ast.MergeKeyNode:
		r.complain(f.spot, "the keys themselves", "a merge key (<<)")
		return
	case *ast.MappingKeyNode:
		r.complain(f.spot, "the key without ?", "a key that starts with ?")
		return
	case ast.Node:
		k := r.value(key, depth+1)
		if k.shape != scalar && k.shape != absent {
			r.complain(f.spot, "a word, then a colon", "a key that is not a word")
			return
		}
		f.key = k.text
	}
	f.value = r.value(n.Value, depth+1)
	if f.value.shape == absent {
		f.value.spot = f.spot
	}
	v.fields = append(v.fields, f)
}

// within a scalar, at returns the place of byte i of its text.
func (v value) at(i int) spot {
	if !v.plain || i <= 0 {
		return v.spot
	}
	text := v.text
	if v.cuts != nil {
		text = v.raw
		i = inRaw(v.cuts, i)
	}
	return spot{line: v.line, col: v.col + utf8.RuneCountInString(text[:min(i, len(text))]), of: v.of}
}

// String gives the problem as one line: "file:line:col: found; write ...".
func (p Problem) String() string {
	s := fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Col, p.Found)
	if p.Write != "" {
		s += "; write " + p.Write
	}
	return s
}

// finite says whether x is a number that can be calculated with.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
