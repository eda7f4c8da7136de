package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"golang.org/x/tools/txtar"

	"halfsplit/testdata/units"
)

// planted is one mistake of testdata/mistakes.
type planted struct {
	name string
	text []byte
	line int
	says string
	also []string
}

// plantedMistakes spoils the sound units as the archive says.
func plantedMistakes(t *testing.T) []planted {
	t.Helper()
	archive, err := txtar.ParseFile(filepath.Join("..", "..", "testdata", "mistakes", "mistakes.txtar"))
	if err != nil {
		t.Fatal(err)
	}
	var all []planted
	for _, f := range archive.Files {
		m := planted{name: f.Name}
		base, at := "plate-warmer.yaml", ""
		var old, fresh []string
		for line := range strings.Lines(string(f.Data)) {
			key, v, _ := strings.Cut(strings.TrimSuffix(line, "\n"), ":")
			v = strings.ReplaceAll(strings.TrimPrefix(v, " "), `\n`, "\n")
			switch key {
			case "base":
				base = v
			case "old":
				old = append(old, v)
			case "new":
				fresh = append(fresh, v)
			case "at":
				at = v
			case "says":
				m.says = v
			case "also":
				m.also = append(m.also, v)
			default:
				t.Fatalf("%s: %q", f.Name, line)
			}
		}
		src, err := units.Files.ReadFile(base)
		if err != nil {
			t.Fatal(err)
		}
		text := string(src)
		for i := range old {
			if strings.Count(text, old[i]) != 1 {
				t.Fatalf("%s: %q is there %d times", f.Name, old[i], strings.Count(text, old[i]))
			}
			text = strings.Replace(text, old[i], fresh[i], 1)
		}
		lines := strings.Split(text, "\n")
		for _, fits := range []func(line string) bool{
			func(line string) bool { return line == at },
			func(line string) bool { return strings.HasPrefix(line, at) },
			func(line string) bool { return strings.Contains(line, at) },
		} {
			if i := slices.IndexFunc(lines, func(line string) bool { return fits(strings.TrimSpace(line)) }); i >= 0 && m.line == 0 {
				m.line = i + 1
			}
		}
		m.text = []byte(text)
		if at == "" || m.line == 0 || m.says == "" {
			t.Fatalf("%s: no line holds %q", f.Name, at)
		}
		all = append(all, m)
	}
	return all
}

// Each planted mistake is found at its line, in words that name it, and nothing else is.
func TestCheckFindsPlantedMistakes(t *testing.T) {
	all := plantedMistakes(t)
	if len(all) < 40 {
		t.Fatalf("only %d mistakes", len(all))
	}
	for _, m := range all {
		t.Run(m.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "unit.yaml")
			if err := os.WriteFile(path, m.text, 0o600); err != nil {
				t.Fatal(err)
			}
			p, out, errs := at(t, "")
			if code := run(t.Context(), p, []string{"check", path}); code != exitError {
				t.Errorf("exit code %d", code)
			}
			lines := strings.Split(strings.TrimSpace(out.String()), "\n")
			found := false
			for _, line := range lines[:len(lines)-1] {
				here := strings.HasPrefix(line, fmt.Sprintf("%s:%d:", path, m.line)) && strings.Contains(line, m.says) && strings.Contains(line, "; write ")
				found = found || here
				if !here && !slices.ContainsFunc(m.also, func(s string) bool { return strings.Contains(line, s) }) {
					t.Errorf("found besides: %s", line)
				}
			}
			if !found {
				t.Errorf("not found: line %d, %q; got:\n%s", m.line, m.says, out)
			}
			if errs.Len() == 0 {
				t.Error("nothing on stderr")
			}
		})
	}
}

// Sound files are passed in silence, by name and by path.
func TestCheckPassesSoundUnits(t *testing.T) {
	all, err := units.Library()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range all {
		for _, name := range []string{f.Name, strings.TrimSuffix(f.Name, ".yaml"), filepath.Join("..", "..", "testdata", "units", f.Name)} {
			p, out, errs := at(t, "")
			code := run(t.Context(), p, []string{"check", name})
			if code != exitOK || errs.Len() > 0 || strings.Count(out.String(), "\n") != 1 || !strings.HasSuffix(out.String(), "; no problem\n") {
				t.Errorf("%s: code %d\n%s%s", name, code, out, errs)
			}
		}
	}
	p, out, _ := at(t, "")
	if run(t.Context(), p, []string{"check", "plate-warmer"}); out.String() != "plate-warmer.yaml: 14 parts, 24 wires, 3 covers; no problem\n" {
		t.Errorf("%q", out)
	}
}

func TestCheckCommandLine(t *testing.T) {
	for _, c := range []struct {
		args []string
		code int
		err  string
	}{
		{[]string{"check"}, exitUsage, "a word is missing"},
		{[]string{"check", "plate-wormer"}, exitUsage, `there is no file "plate-wormer", and the library has only: `},
		{[]string{"check", "no/such/file.yaml"}, exitUsage, "cannot be read"},
		{[]string{"check", "--loud", "plate-warmer"}, exitUsage, "not defined: -loud"},
	} {
		p, out, errs := at(t, "")
		if code := run(t.Context(), p, c.args); code != c.code || !strings.Contains(errs.String(), c.err) || out.Len() > 0 {
			t.Errorf("%v: code %d, out %q, err %q", c.args, code, out, errs)
		}
	}
}

// Several files give one summary each, and a count over all of them at the end.
func TestCheckSeveralFiles(t *testing.T) {
	path := filepath.Join(t.TempDir(), "empty.yaml")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	p, out, errs := at(t, "")
	if code := run(t.Context(), p, []string{"check", "plate-warmer", path}); code != exitError {
		t.Errorf("exit code %d", code)
	}
	if !strings.Contains(out.String(), "no problem\n"+path+":1:1: the file is empty") || !strings.HasSuffix(out.String(), path+": 1 problem\n") {
		t.Errorf("%s", out)
	}
	if errs.String() != "1 problem in 1 of 2 files.\n" {
		t.Errorf("%q", errs)
	}
}
