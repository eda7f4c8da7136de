package flows_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"halfsplit/flows"
	"halfsplit/flows/wording"
)

// codesIn finds every sentence code in the sources of the dialog: a string of the form
// "phase.name". Codes put together at run time are listed by hand below.
func codesIn(t *testing.T) []string {
	t.Helper()
	form := regexp.MustCompile(`^[a-z]+\.[a-z_]+$`)
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	var codes []string
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				if s, err := strconv.Unquote(lit.Value); err == nil && form.MatchString(s) && s != "skeleton.yaml" {
					codes = append(codes, s)
				}
			}
			return true
		})
	}
	return codes
}

// doubtCodes are the reasons for asking back of package quantity.
func doubtCodes(t *testing.T) []string {
	t.Helper()
	src, err := os.ReadFile(filepath.Join("quantity", "doubt.go"))
	if err != nil {
		t.Fatal(err)
	}
	var codes []string
	for _, m := range regexp.MustCompile(`DoubtCode = "([^"]+)"`).FindAllStringSubmatch(string(src), -1) {
		codes = append(codes, "doubt."+strings.ReplaceAll(m[1], " ", "_"))
	}
	if len(codes) < 5 {
		t.Fatalf("found only %v", codes)
	}
	return codes
}

func TestEverySentenceIsUsedAndWritten(t *testing.T) {
	used := append(codesIn(t), doubtCodes(t)...)
	safe, closing, leaving := flows.Ticks()
	for _, tick := range append(append(safe, closing...), leaving...) {
		if tick.Name != "cover" && tick.Name != "guarded" { // said by card.cover and card.guard
			used = append(used, "tick."+tick.Name)
		}
	}
	for _, lang := range wording.Languages() {
		written := wording.Codes(lang)
		for _, code := range used {
			if !slices.Contains(written, code) {
				t.Errorf("%s: %q is used but not written", lang, code)
			}
		}
		for _, code := range written {
			if !slices.Contains(used, code) {
				t.Errorf("%s: %q is written but not used", lang, code)
			}
			args := []wording.Arg{}
			for _, h := range wording.Holes(lang, code) {
				args = append(args, wording.Arg{Name: h, Value: "1"})
			}
			text, ok := wording.Text(lang, code, args...)
			if !ok || strings.ContainsAny(text, "{}!") {
				t.Errorf("%s: %q reads %q", lang, code, text)
			}
			for _, word := range []string{"great", "well done", "good job", "awesome", "perfect", "please note", "sorry"} {
				if strings.Contains(strings.ToLower(text), word) {
					t.Errorf("%s: %q has %q", lang, code, word)
				}
			}
		}
	}
}
