package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"
)

const module = "halfsplit"

// layer is one row of the dependency rule. Names are packages of this module; one that
// ends in "/*" stands for every package directly below.
type layer struct {
	pkg   string
	may   []string // packages of this module it may import
	never []string // packages outside it that it must not reach, even through others
	why   string
}

// outside is what the dialog must not reach: anything that could make a second run of
// the same trail differ from the first.
var outside = []string{"os", "os/*", "net", "net/*", "database/*", "database/sql/*", "math/rand", "math/rand/v2", "crypto/rand",
	"log", "log/*", "io/ioutil", "syscall", "runtime", "plugin"}

// dialog is outside with chance allowed, for a simulated technician with a seed.
var dialog = slices.DeleteFunc(slices.Clone(outside), func(p string) bool { return p == "math/rand/v2" })

var layers = []layer{
	{"flows/quantity", nil, outside, "numbers stand alone"},
	{"flows/wording", []string{"flows/quantity"}, outside, "sentences know no dialog"},
	{"flows/circuit", []string{"flows/quantity"}, outside, "a circuit knows no test, no dialog and no chat"},
	{"flows/isolate", []string{"flows/circuit", "flows/quantity"}, outside, "isolation is computed from circuits and readings alone"},
	{"flows/safety", []string{"flows/quantity"}, outside, "gates hold for every circuit, so they know none"},
	{"flows/machine", []string{"flows/safety"}, outside, "the table of states knows facts and nothing else"},
	{"flows", []string{"flows/quantity", "flows/wording", "flows/circuit", "flows/isolate", "flows/safety", "flows/machine"}, outside,
		"the dialog is pure: no chat, store, clock, network or chance"},
	{"flows/rehearse", []string{"flows", "flows/quantity", "flows/wording", "flows/circuit", "flows/isolate", "flows/safety", "flows/machine"}, dialog,
		"a rehearsal drives the real dialog; its chance is seeded"},
	{"bot", nil, nil, "the ports are vocabulary, made of the standard library"},
	{"bot/engine", []string{"bot", "flows", "flows/circuit", "flows/isolate", "flows/machine", "flows/quantity", "flows/safety", "flows/wording"}, nil,
		"the engine joins conversation and dialog, and meets stores and adapters only through ports"},
	{"bot/bottest", []string{"bot"}, nil, "the suite for adapters knows the ports only"},
	{"store/storetest", []string{"bot"}, nil, "the suite for stores knows the ports only"},
	{"store/*", []string{"bot"}, nil, "a store knows the ports only"},
	{"adapters/*", []string{"bot"}, nil, "an adapter knows the ports only"},
	{"testdata/*", nil, nil, "unit files are data"},
	{"cmd/*", []string{"..."}, nil, "a program may see all but the test suites"},
}

// suites may be imported by test files only.
var suites = []string{"bot/bottest", "store/storetest"}

// pkg is what the non-test files of one directory import.
type pkg map[string]token.Position // import path -> where

// imports reads the imports of every non-test file of a tree. Directories named testdata
// count at the top of the tree only.
func imports(tree fs.FS) (map[string]pkg, error) {
	all := map[string]pkg{}
	err := fs.WalkDir(tree, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			base := d.Name()
			if name != "." && (strings.HasPrefix(base, ".") || strings.HasPrefix(base, "_") || base == "testdata" && name != "testdata") {
				return fs.SkipDir
			}
			return nil
		}
		if !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		src, err := fs.ReadFile(tree, name)
		if err != nil {
			return err
		}
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, name, src, parser.ImportsOnly)
		if err != nil {
			return err
		}
		dir := path.Dir(name)
		if all[dir] == nil {
			all[dir] = pkg{}
		}
		for _, spec := range f.Imports {
			p, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			all[dir][p] = fset.Position(spec.Pos())
		}
		return nil
	})
	return all, err
}

// inside returns the name within the module of an import path.
func inside(p string) (string, bool) { return strings.CutPrefix(p, module+"/") }

// isStandard tells a package of the standard library by its first element.
func isStandard(p string) bool {
	first, _, _ := strings.Cut(p, "/")
	return !strings.Contains(first, ".") && first != module
}

// named reports whether pattern stands for p.
func named(pattern, p string) bool {
	if pattern == "..." || pattern == p {
		return true
	}
	dir, star := strings.CutSuffix(pattern, "/*")
	return star && path.Dir(p) == dir
}

func anyNamed(patterns []string, p string) bool {
	return slices.ContainsFunc(patterns, func(pat string) bool { return named(pat, p) })
}

// breaches checks a tree against the rule and returns a sentence for each breach.
func breaches(tree fs.FS) ([]string, error) {
	all, err := imports(tree)
	if err != nil {
		return nil, err
	}
	var out []string
	used := map[string]bool{}
	for _, dir := range slices.Sorted(maps.Keys(all)) {
		i := slices.IndexFunc(layers, func(l layer) bool { return named(l.pkg, dir) })
		if i < 0 {
			out = append(out, fmt.Sprintf("%s: has no row in the dependency rule", dir))
			continue
		}
		l := layers[i]
		used[l.pkg] = true
		for _, imp := range slices.Sorted(maps.Keys(all[dir])) {
			at := all[dir][imp]
			in, ours := inside(imp)
			switch {
			case ours && all[in] == nil:
				out = append(out, fmt.Sprintf("%s: imports %s, which is not there", at, in))
			case ours && slices.Contains(suites, in):
				out = append(out, fmt.Sprintf("%s: imports %s: a test suite is for test files", at, in))
			case ours && strings.HasPrefix(in, "cmd/"):
				out = append(out, fmt.Sprintf("%s: imports %s: nothing imports a program", at, in))
			case ours && !anyNamed(l.may, in):
				out = append(out, fmt.Sprintf("%s: %s may not import %s: %s", at, dir, in, l.why))
			case !ours && dir == "bot" && !isStandard(imp):
				out = append(out, fmt.Sprintf("%s: %s may not import %s: %s", at, dir, imp, l.why))
			}
		}
		for _, chain := range reach(all, dir) {
			last := chain[len(chain)-1]
			if anyNamed(l.never, last) {
				out = append(out, fmt.Sprintf("%s: must not reach %s (%s): %s", dir, last, strings.Join(chain, " → "), l.why))
			}
		}
	}
	for _, l := range layers {
		if !used[l.pkg] {
			out = append(out, fmt.Sprintf("%s: is in the dependency rule and is not there", l.pkg))
		}
	}
	return out, nil
}

// reach lists the shortest way from a package to each package it imports, directly or
// through packages of this module.
func reach(all map[string]pkg, from string) [][]string {
	var out [][]string
	seen := map[string]bool{}
	for queue := [][]string{{from}}; len(queue) > 0; queue = queue[1:] {
		chain := queue[0]
		for _, imp := range slices.Sorted(maps.Keys(all[chain[len(chain)-1]])) {
			if seen[imp] {
				continue
			}
			seen[imp] = true
			name := imp
			in, ours := inside(imp)
			if ours {
				name = in
			}
			next := append(slices.Clone(chain), name)
			out = append(out, next)
			if ours {
				queue = append(queue, next)
			}
		}
	}
	return out
}

// clock are the functions of package time that ask for the time or wait.
var clock = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"}

// impurities reports uses of the clock, and goroutines, in the dialog.
func impurities(tree fs.FS) ([]string, error) {
	var out []string
	err := fs.WalkDir(tree, "flows", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return err
		}
		src, err := fs.ReadFile(tree, name)
		if err != nil {
			return err
		}
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, name, src, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		timeName := ""
		for _, spec := range f.Imports {
			if spec.Path.Value == `"time"` {
				timeName = "time"
				if spec.Name != nil {
					timeName = spec.Name.Name
				}
			}
		}
		if timeName == "." {
			out = append(out, fmt.Sprintf("%s: package time is imported into the file's own names", name))
		}
		ast.Inspect(f, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.SelectorExpr:
				if x, ok := n.X.(*ast.Ident); ok && timeName != "" && x.Name == timeName && slices.Contains(clock, n.Sel.Name) {
					out = append(out, fmt.Sprintf("%s: time.%s: the dialog is told the time", fset.Position(n.Pos()), n.Sel.Name))
				}
			case *ast.GoStmt:
				out = append(out, fmt.Sprintf("%s: go: the dialog computes in the goroutine it is called in", fset.Position(n.Pos())))
			case *ast.FuncDecl:
				if n.Recv == nil && n.Name.Name == "init" {
					out = append(out, fmt.Sprintf("%s: init: nothing happens before it is asked for", fset.Position(n.Pos())))
				}
			}
			return true
		})
		return nil
	})
	return out, err
}

func TestImports(t *testing.T) {
	for _, check := range []func(fs.FS) ([]string, error){breaches, impurities} {
		found, err := check(os.DirFS("../.."))
		if err != nil {
			t.Fatal(err)
		}
		for _, b := range found {
			t.Error(b)
		}
	}
}

// A rule that finds nothing proves nothing: each kind of breach is planted once.
func TestImportsFindsPlantedBreaches(t *testing.T) {
	file := func(src string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(src)} }
	house := func() fstest.MapFS {
		tree := fstest.MapFS{}
		for _, l := range layers {
			dir := strings.Replace(l.pkg, "*", "one", 1)
			tree[dir+"/a.go"] = file("package a")
		}
		return tree
	}
	for _, c := range []struct {
		name, path, src, want string
	}{
		{"clean", "bot/b.go", `package a; import "context"`, ""},
		{"a test file may", "store/one/b_test.go", `package a; import "halfsplit/store/storetest"`, ""},
		{"adapter sees engine", "adapters/one/b.go", `package a; import "halfsplit/bot/engine"`,
			"adapters/one/b.go:1:19: adapters/one may not import bot/engine: an adapter knows the ports only"},
		{"adapter sees adapter", "adapters/two/b.go", `package a; import "halfsplit/adapters/one"`,
			"adapters/two/b.go:1:19: adapters/two may not import adapters/one: an adapter knows the ports only"},
		{"bot sees dialog", "bot/b.go", `package a; import "halfsplit/flows"`,
			"bot/b.go:1:19: bot may not import flows: the ports are vocabulary, made of the standard library"},
		{"bot sees the world", "bot/b.go", `package a; import "golang.org/x/text/width"`,
			"bot/b.go:1:19: bot may not import golang.org/x/text/width: the ports are vocabulary, made of the standard library"},
		{"dialog sees bot", "flows/b.go", `package a; import "halfsplit/bot"`,
			"flows/b.go:1:19: flows may not import bot: the dialog is pure: no chat, store, clock, network or chance"},
		{"dialog reaches the network through a circuit", "flows/circuit/b.go", `package a; import "net/http"`,
			"flows/circuit: must not reach net/http (flows/circuit → net/http): a circuit knows no test, no dialog and no chat"},
		{"suite in production", "cmd/one/b.go", `package a; import "halfsplit/store/storetest"`,
			"cmd/one/b.go:1:19: imports store/storetest: a test suite is for test files"},
		{"program imported", "bot/engine/b.go", `package a; import "halfsplit/cmd/one"`,
			"bot/engine/b.go:1:19: imports cmd/one: nothing imports a program"},
		{"package without a row", "flows/extra/b.go", `package a`, "flows/extra: has no row in the dependency rule"},
		{"rehearsal with a seed", "flows/rehearse/b.go", `package a; import "math/rand/v2"`, ""},
		{"dialog with chance", "flows/b.go", `package a; import "math/rand/v2"`,
			"flows: must not reach math/rand/v2 (flows → math/rand/v2): the dialog is pure: no chat, store, clock, network or chance"},
		{"clock", "flows/isolate/b.go", `package a; import t "time"; var x = t.Now()`,
			"flows/isolate/b.go:1:37: time.Now: the dialog is told the time"},
		{"duration", "flows/isolate/b.go", `package a; import "time"; var x = time.Second`, ""},
		{"goroutine", "flows/b.go", `package a; func f() { go f() }`,
			"flows/b.go:1:23: go: the dialog computes in the goroutine it is called in"},
		{"init", "flows/b.go", `package a; func init() {}`, "flows/b.go:1:12: init: nothing happens before it is asked for"},
	} {
		t.Run(c.name, func(t *testing.T) {
			tree := house()
			tree[c.path] = file(c.src)
			var found []string
			for _, check := range []func(fs.FS) ([]string, error){breaches, impurities} {
				f, err := check(tree)
				if err != nil {
					t.Fatal(err)
				}
				found = append(found, f...)
			}
			if got := strings.Join(found, "\n"); got != c.want {
				t.Errorf("got\n%s\nwant\n%s", got, c.want)
			}
		})
	}
	t.Run("reached through another", func(t *testing.T) {
		tree := house()
		tree["flows/circuit/b.go"] = file(`package a; import "os"`)
		tree["flows/b.go"] = file(`package a; import "halfsplit/flows/circuit"`)
		found, err := breaches(tree)
		if err != nil || len(found) != 2 || !strings.Contains(found[0], "flows → flows/circuit → os") {
			t.Errorf("got %q, %v", found, err)
		}
	})
	t.Run("package gone", func(t *testing.T) {
		tree := house()
		delete(tree, "flows/rehearse/a.go")
		found, err := breaches(tree)
		if want := "flows/rehearse: is in the dependency rule and is not there"; err != nil || strings.Join(found, "\n") != want {
			t.Errorf("got %q, %v, want %q", found, err, want)
		}
	})
}
