package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"halfsplit/bot"
	"halfsplit/bot/engine"
	"halfsplit/flows"
)

// openJobs reads the arguments of a command on the jobs and opens the library and the
// store. want is how many words stand behind the command. The caller closes the store.
func openJobs(ctx context.Context, p program, name string, args []string, want int) (*library, bot.Store, []string, error) {
	fs := flag.NewFlagSet(name, flag.ContinueOnError)
	path := storeFlag(fs)
	rest, err := parse(fs, args, want)
	if err != nil {
		return nil, nil, nil, err
	}
	l, err := readLibrary()
	if err != nil {
		return nil, nil, nil, err
	}
	st, err := openStore(ctx, p, *path)
	if err != nil {
		return nil, nil, nil, err
	}
	return l, st, rest, nil
}

// printTrail prints the transcript of a job.
func printTrail(ctx context.Context, p program, args []string) (err error) {
	l, st, rest, err := openJobs(ctx, p, "trail", args, 1)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	job, err := findJob(ctx, st, rest[0])
	if err != nil {
		return err
	}
	text, err := transcript(ctx, st, l, job)
	if err != nil {
		return err
	}
	_, err = io.WriteString(p.out, text)
	return err
}

// findJob returns the job of a name: "last", or the first letters of its id.
func findJob(ctx context.Context, st bot.Store, name string) (bot.JobID, error) {
	all, err := st.Jobs(ctx)
	if err != nil {
		return "", err
	}
	if len(all) == 0 {
		return "", &plainError{"There is no job yet."}
	}
	if name == "last" {
		return all[0].Job, nil
	}
	var found []string
	for _, j := range all {
		if string(j.Job) == name {
			return j.Job, nil
		}
		if strings.HasPrefix(string(j.Job), name) {
			found = append(found, string(j.Job))
		}
	}
	switch len(found) {
	case 0:
		return "", &plainError{fmt.Sprintf("There is no job %q. See: halfsplit jobs", name)}
	case 1:
		return bot.JobID(found[0]), nil
	default:
		return "", &plainError{fmt.Sprintf("%q stands for %d jobs: %s. Give more letters.", name, len(found), strings.Join(found, ", "))}
	}
}

// listJobs prints one line for each job.
func listJobs(ctx context.Context, p program, args []string) (err error) {
	l, st, _, err := openJobs(ctx, p, "jobs", args, 0)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, st.Close()) }()
	all, err := st.Jobs(ctx)
	if err != nil {
		return err
	}
	if len(all) == 0 {
		_, err := fmt.Fprintln(p.out, "There is no job yet.")
		return err
	}
	w := tabwriter.NewWriter(p.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "JOB\tOPENED\tSTATE\tREADINGS\tUNIT")
	for _, info := range all {
		recs, err := st.Load(ctx, info.Job)
		if err != nil {
			return err
		}
		j, err := engine.Fold(recs)
		if err != nil { // the others are still of use
			fmt.Fprintf(w, "%s\t%s\tcannot be read: %v\t\t\n", info.Job, clockTime(info.Opened), err)
			continue
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%d\t%s\n", info.Job, clockTime(info.Opened), stateOf(j), j.Readings, unitOf(l, j))
	}
	return w.Flush()
}

// stateOf names the state of a job in words.
func stateOf(j flows.Job) string {
	if j.Closed != nil {
		return "closed: " + j.Closed.Outcome
	}
	return strings.ReplaceAll(string(j.State), "_", " ")
}

func unitOf(l *library, j flows.Job) string {
	if j.Opened == nil {
		return "not known yet"
	}
	if u, ok := l.Unit(j.Opened.Unit); ok {
		return u.Name
	}
	return "not in the library"
}

func clockTime(ms int64) string { return time.UnixMilli(ms).Format("2006-01-02 15:04") }
