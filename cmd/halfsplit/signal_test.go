//go:build unix

package main

import (
	"bufio"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// SIGTERM and SIGINT end the program cleanly, and what was said is kept.
func TestSignals(t *testing.T) {
	exe, err := build()
	if err != nil {
		t.Fatal(err)
	}
	for _, sig := range []syscall.Signal{syscall.SIGTERM, syscall.SIGINT} {
		t.Run(sig.String(), func(t *testing.T) {
			store := filepath.Join(t.TempDir(), "jobs.db")
			cmd := fars[0].command(t, store)
			if cmd.Path != exe {
				t.Fatalf("not the built program: %s", cmd.Path)
			}
			in, err := cmd.StdinPipe()
			if err != nil {
				t.Fatal(err)
			}
			out, err := cmd.StdoutPipe()
			if err != nil {
				t.Fatal(err)
			}
			var errs strings.Builder
			cmd.Stderr = &errs
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			if _, err := in.Write([]byte(script[0] + "\n")); err != nil {
				t.Fatal(err)
			}
			lines := bufio.NewScanner(out)
			for lines.Scan() && !strings.HasPrefix(lines.Text(), "bot") {
			}
			if err := cmd.Process.Signal(sig); err != nil {
				t.Fatal(err)
			}
			for lines.Scan() {
			}
			if err := cmd.Wait(); err != nil || errs.Len() > 0 {
				t.Fatalf("%v: %s", err, errs.String())
			}
			recs, unsent, err := readTrail(store)
			if err != nil || len(recs) == 0 || unsent != 0 {
				t.Errorf("%d records, %d unsent, %v", len(recs), unsent, err)
			}
		})
	}
}
