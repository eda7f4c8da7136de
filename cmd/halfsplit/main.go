// Command halfsplit coaches a service technician through an electrical fault, in a
// chat: here the one in this terminal, at a demo shop. With a word behind it, it shows
// what the shop's store and library hold.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"
	"time"
)

// Exit codes.
const (
	exitOK    = 0
	exitError = 1 // something did not work
	exitUsage = 2 // the command line is wrong
)

// program is what a command may use of the world.
type program struct {
	in       io.Reader
	out      io.Writer
	err      io.Writer
	terminal bool // in is a terminal
	env      func(string) string
	now      func() time.Time
}

// command is one word of the command line.
type command struct {
	name  string
	args  string // as shown in the help
	about string
	run   func(ctx context.Context, p program, args []string) error
}

// commands are in the order of the help. The first is run if no word is given.
func commands() []command {
	return []command{
		{"chat", "", "work on a unit in this terminal (done if no command is given)", chat},
		{"jobs", "", "list the jobs, the latest first", listJobs},
		{"trail", "JOB", "print the transcript of a job as Markdown; JOB may be its first letters, or last", printTrail},
		{"rederive", "JOB", "judge a job again with the engine of today, and say what differs", rederive},
		{"units", "", "list the unit files of the library", listUnits},
		{"rehearse", "UNIT...", "run every fault of a unit through the dialog with a simulated technician", rehearseUnits},
		{"check", "UNIT...", "say what is wrong with unit files: paths, or names of the library", check},
		{"expect", "UNIT", "print what a sound unit reads; --set S1=on, --live, --csv", expect},
		{"version", "", "print the version", version},
	}
}

// usageError is a wrong command line. Its text is for people.
type usageError struct{ text string }

func (e *usageError) Error() string { return e.text }

// plainError is an error whose text is for people.
type plainError struct{ text string }

func (e *plainError) Error() string { return e.text }

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	go func() {
		<-ctx.Done()
		stop() // a second signal ends the program at once
	}()
	code := run(ctx, program{
		in: os.Stdin, out: os.Stdout, err: os.Stderr, terminal: isTerminal(os.Stdin), env: os.Getenv, now: time.Now,
	}, os.Args[1:])
	os.Exit(code)
}

// run does what the arguments say and returns the exit code.
func run(ctx context.Context, p program, args []string) int {
	all := commands()
	name := all[0].name
	if len(args) > 0 && !strings.HasPrefix(args[0], "-") {
		name, args = args[0], args[1:]
	}
	if name == "help" || len(args) > 0 && name != "rehearse" && (args[0] == "-h" || args[0] == "-help" || args[0] == "--help") {
		help(p.out)
		return exitOK
	}
	for _, c := range all {
		if c.name == name {
			return exitCode(p.err, c.run(ctx, p, args))
		}
	}
	return exitCode(p.err, &usageError{fmt.Sprintf("There is no command %q. Try: halfsplit help", name)})
}

// exitCode reports an error to people and returns the exit code for it.
func exitCode(w io.Writer, err error) int {
	var usage *usageError
	var plain *plainError
	switch {
	case err == nil:
		return exitOK
	case errors.As(err, &usage):
		fmt.Fprintln(w, usage.text)
		return exitUsage
	case errors.As(err, &plain):
		fmt.Fprintln(w, plain.text)
	default:
		fmt.Fprintf(w, "Something failed that should not: %v\n", err)
	}
	return exitError
}

func help(w io.Writer) {
	fmt.Fprint(w, "Halfsplit coaches a service technician through an electrical fault.\n\n")
	for _, c := range commands() {
		fmt.Fprintf(w, "  %-24s %s\n", strings.TrimSpace("halfsplit "+c.name+" "+c.args), c.about)
	}
	fmt.Fprintf(w, "  %-24s %s\n", "halfsplit help", "print this")
	fmt.Fprint(w, "\nchat, jobs and trail take --store PATH, the file that holds the jobs. Without it they use\n"+
		"halfsplit/halfsplit.db in your directory for program state.\n")
}

// parse reads the flags of a command, which may stand before or behind its other
// arguments, and returns those. want is how many there must be; below zero: any number.
func parse(fs *flag.FlagSet, args []string, want int) ([]string, error) {
	fs.SetOutput(io.Discard)
	var rest []string
	for {
		if err := fs.Parse(args); err != nil {
			return nil, &usageError{fmt.Sprintf("halfsplit %s: %v. Try: halfsplit help", fs.Name(), err)}
		}
		if fs.NArg() == 0 {
			break
		}
		rest = append(rest, fs.Arg(0))
		args = fs.Args()[1:]
	}
	switch {
	case want >= 0 && len(rest) > want:
		return nil, &usageError{fmt.Sprintf("halfsplit %s: %q is one word too many. Try: halfsplit help", fs.Name(), rest[want])}
	case len(rest) < want:
		return nil, &usageError{fmt.Sprintf("halfsplit %s: a word is missing behind it. Try: halfsplit help", fs.Name())}
	}
	return rest, nil
}

// version prints what was built, from what, with what.
func version(_ context.Context, p program, args []string) error {
	if _, err := parse(flag.NewFlagSet("version", flag.ContinueOnError), args, 0); err != nil {
		return err
	}
	v, rev, with := "development", "", ""
	if info, ok := debug.ReadBuildInfo(); ok {
		with = info.GoVersion
		if info.Main.Version != "" && info.Main.Version != "(devel)" {
			v = info.Main.Version
		}
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				rev = " " + s.Value
			}
		}
	}
	_, err := fmt.Fprintf(p.out, "halfsplit %s%s %s\n", v, rev, with)
	return err
}

// isTerminal reports whether f is a character device, as a terminal is.
func isTerminal(f *os.File) bool {
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// logger writes warnings and errors of the program to w.
func logger(w io.Writer) *slog.Logger {
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: slog.LevelWarn}))
}
