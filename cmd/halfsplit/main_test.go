package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// at makes a program whose store is in a directory of the test.
func at(t *testing.T, input string) (program, *bytes.Buffer, *bytes.Buffer) {
	var out, errs bytes.Buffer
	home := t.TempDir()
	return program{
		in: strings.NewReader(input), out: &out, err: &errs, now: time.Now,
		env: func(name string) string {
			if name == "HOME" {
				return home
			}
			return ""
		},
	}, &out, &errs
}

func TestCommandLine(t *testing.T) {
	for _, c := range []struct {
		args     string
		code     int
		out, err string // parts of what is printed
	}{
		{"help", exitOK, "halfsplit trail JOB", ""},
		{"--help", exitOK, "halfsplit units", ""},
		{"trail --help", exitOK, "halfsplit units", ""},
		{"version", exitOK, "halfsplit ", ""},
		{"units", exitOK, "plate-warmer.yaml", ""},
		{"jobs", exitOK, "There is no job yet.", ""},
		{"dance", exitUsage, "", `There is no command "dance". Try: halfsplit help`},
		{"--loud", exitUsage, "", "halfsplit chat: flag provided but not defined: -loud. Try: halfsplit help"},
		{"trail", exitUsage, "", "halfsplit trail: a word is missing behind it."},
		{"trail a b", exitUsage, "", `halfsplit trail: "b" is one word too many.`},
		{"trail last", exitError, "", "There is no job yet."},
		{"jobs --store", exitUsage, "", "halfsplit jobs: flag needs an argument: -store."},
		{"jobs --store /dev/null/x", exitError, "", "The file of jobs cannot be used: "},
	} {
		t.Run(c.args, func(t *testing.T) {
			p, out, errs := at(t, "")
			code := run(t.Context(), p, strings.Fields(c.args))
			if code != c.code || !strings.Contains(out.String(), c.out) || !strings.Contains(errs.String(), c.err) {
				t.Errorf("got code %d, out %q, err %q", code, out, errs)
			}
			if (c.out == "") != (out.Len() == 0) || (c.err == "") != (errs.Len() == 0) {
				t.Errorf("printed to the wrong place: out %q, err %q", out, errs)
			}
		})
	}
}

func TestStorePath(t *testing.T) {
	for _, c := range []struct {
		goos string
		env  map[string]string
		want string // with slashes; empty: an error
	}{
		{"linux", map[string]string{"HOME": "/home/ann"}, "/home/ann/.local/state/halfsplit/halfsplit.db"},
		{"linux", map[string]string{"HOME": "/home/ann", "XDG_STATE_HOME": "/var/s"}, "/var/s/halfsplit/halfsplit.db"},
		{"linux", map[string]string{"HOME": "/home/ann", "XDG_STATE_HOME": "s"}, "/home/ann/.local/state/halfsplit/halfsplit.db"},
		{"linux", nil, ""},
		{"darwin", map[string]string{"HOME": "/Users/ann"}, "/Users/ann/Library/Application Support/halfsplit/halfsplit.db"},
		{"windows", map[string]string{"LocalAppData": "/ann"}, "/ann/halfsplit/halfsplit.db"},
		{"windows", map[string]string{"HOME": "/ann"}, ""},
	} {
		got, err := storePath(c.goos, func(name string) string { return c.env[name] })
		if filepath.ToSlash(got) != c.want || (err != nil) != (c.want == "") {
			t.Errorf("%s %v: got %q, %v, want %q", c.goos, c.env, got, err, c.want)
		}
	}
}

// The first lines say what this is, what comes before it, and how to begin. After the
// end of input everything is answered and kept.
func TestChat(t *testing.T) {
	p, out, errs := at(t, "plate warmer, breaker goes as soon as I flip the switch\n")
	store := filepath.Join(t.TempDir(), "jobs.db")
	if code := run(t.Context(), p, []string{"--store", store}); code != exitOK {
		t.Fatalf("code %d: %s", code, errs)
	}
	lines := strings.Split(out.String(), "\n")
	if len(lines) < 6 || !strings.Contains(lines[2], "licensed") || !strings.HasPrefix(lines[4], "Begin: ") {
		t.Errorf("the beginning:\n%s", out)
	}
	if !strings.Contains(out.String(), "\nbot   ") {
		t.Errorf("no answer:\n%s", out)
	}
	if errs.Len() > 0 {
		t.Errorf("on stderr: %s", errs)
	}

	p, out, _ = at(t, "")
	if code := run(t.Context(), p, []string{"chat", "--store", store}); code != exitOK {
		t.Fatalf("code %d", code)
	}
	if s := out.String(); !strings.Contains(s, " is open and goes on below") || strings.Count(s, "As before the break: ") != 1 {
		t.Errorf("after a restart:\n%s", out)
	}

	p, out, _ = at(t, "")
	if code := run(t.Context(), p, []string{"trail", "last", "--store", store}); code != exitOK || !strings.Contains(out.String(), "flip the switch") {
		t.Errorf("code %d, transcript:\n%s", code, out)
	}
	p, out, _ = at(t, "")
	if code := run(t.Context(), p, []string{"jobs", "--store", store}); code != exitOK || strings.Count(out.String(), "\n") != 2 {
		t.Errorf("code %d, jobs:\n%s", code, out)
	}
	job := strings.Fields(strings.Split(out.String(), "\n")[1])[0]
	p, out, errs = at(t, "")
	if code := run(t.Context(), p, []string{"trail", job[:3], "--store", store}); code != exitOK || out.Len() == 0 {
		t.Errorf("by first letters: code %d, %s", code, errs)
	}
}

// The end of the context ends the program cleanly while a line is waited for.
func TestChatEndsWhenTold(t *testing.T) {
	in, far, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	defer far.Close()
	p, _, errs := at(t, "")
	p.in = in
	ctx, cancel := context.WithCancel(t.Context())
	end := make(chan int)
	go func() { end <- run(ctx, p, nil) }()
	if _, err := far.WriteString("plate warmer\n"); err != nil {
		t.Fatal(err)
	}
	time.AfterFunc(200*time.Millisecond, cancel)
	select {
	case code := <-end:
		if code != exitOK || errs.Len() > 0 {
			t.Errorf("code %d: %s", code, errs)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("does not end")
	}
}

func TestStoreThatCannotBeOpened(t *testing.T) {
	path := filepath.Join(t.TempDir(), "not-a-database")
	if err := os.WriteFile(path, []byte(strings.Repeat("plain text\n", 100)), 0o600); err != nil {
		t.Fatal(err)
	}
	p, _, errs := at(t, "")
	if code := run(t.Context(), p, []string{"--store", path}); code != exitError || !strings.Contains(errs.String(), "is not a database: give another path") {
		t.Errorf("code %d: %s", code, errs)
	}
}
