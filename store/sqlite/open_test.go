package sqlite_test

import (
	"bytes"
	"database/sql"
	"errors"
	"io/fs"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"halfsplit/bot"
	"halfsplit/store/sqlite"
)

// raw opens a file with the bare driver.
func raw(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	t.Cleanup(func() { db.Close() })
	return db
}

func run(t *testing.T, db *sql.DB, query string) {
	t.Helper()
	if _, err := db.Exec(query); err != nil {
		t.Fatalf("%s: %v", query, err)
	}
}

func TestOpenCreatesForOwnerOnly(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data", "shop")
	s := openIn(t, dir)
	defer s.Close()
	if err := s.PutBlob(t.Context(), bot.BlobHash(nil), nil); err != nil { // so that the -wal file is there
		t.Fatal(err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) < 2 {
		t.Fatalf("files: %v, want the database and its -wal", entries)
	}
	for _, e := range entries {
		info, err := e.Info()
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != 0o600 {
			t.Errorf("%s has mode %v, want 0600", e.Name(), info.Mode().Perm())
		}
	}
	for _, d := range []string{dir, filepath.Dir(dir)} {
		info, err := os.Stat(d)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode().Perm() != 0o700 {
			t.Errorf("%s has mode %v, want 0700", d, info.Mode().Perm())
		}
	}
}

func TestOpenWarnsOfReaders(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	if err := os.WriteFile(path, nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(path, 0o644); err != nil { // whatever the umask is
		t.Fatal(err)
	}
	var log bytes.Buffer
	s, err := sqlite.Open(t.Context(), path, slog.New(slog.NewTextHandler(&log, nil)))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if !strings.Contains(log.String(), "can be read by others") {
		t.Errorf("log: %s", log.String())
	}
}

// Names with characters that mean something in an address must open that very file.
func TestOpenOddPaths(t *testing.T) {
	for _, name := range []string{"a b.db", "a?mode=ro.db", "a#b.db", "50%.db", "a%20b.db", "écrou Ω.db", "a&b=c.db", "a;b.db"} {
		dir := t.TempDir()
		s, err := sqlite.Open(t.Context(), filepath.Join(dir, name), nil)
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		if err := s.Close(); err != nil {
			t.Errorf("%q: %v", name, err)
		}
		entries, err := os.ReadDir(dir)
		if err != nil {
			t.Fatal(err)
		}
		if len(entries) != 1 || entries[0].Name() != name {
			t.Errorf("%q: directory holds %v", name, entries)
		}
	}
	t.Chdir(t.TempDir())
	s, err := sqlite.Open(t.Context(), "jobs.db", nil)
	if err != nil {
		t.Fatalf("relative path: %v", err)
	}
	defer s.Close()
	if info, err := os.Stat("jobs.db"); err != nil || info.Size() == 0 {
		t.Errorf("relative path: %v, %v", info, err)
	}
}

func TestOpenRefuses(t *testing.T) {
	dir := t.TempDir()
	file := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	made := func(name string, queries ...string) string {
		path := filepath.Join(dir, name)
		db := raw(t, path)
		for _, q := range queries {
			run(t, db, q)
		}
		db.Close()
		return path
	}
	newer := filepath.Join(dir, "newer.db")
	s, err := sqlite.Open(t.Context(), newer, nil)
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	run(t, raw(t, newer), "PRAGMA user_version = 9999")
	for _, c := range []struct {
		name, path string
		is         error
		says       []string
	}{
		{"empty", "", nil, []string{"not the path of a file", "give a path"}},
		{"in memory", ":memory:", nil, []string{"not the path of a file"}},
		{"directory", dir, nil, []string{"is a directory", "halfsplit.db"}},
		{"below a file", filepath.Join(file("plain", []byte("x")), "jobs.db"), nil, []string{"cannot be opened", "check the path"}},
		{"device", os.DevNull, nil, []string{"not a regular file"}},
		{"text", file("text", bytes.Repeat([]byte("not a database, a letter\n"), 100)), nil, []string{"is not a database", "not changed"}},
		{"other program", made("other.db", "CREATE TABLE customer (id INTEGER)"), sqlite.ErrForeign, []string{"another program", "not changed"}},
		{"other application", made("app.db", "PRAGMA application_id = 42"), sqlite.ErrForeign, []string{"another program"}},
		{"other version", made("version.db", "PRAGMA user_version = 3"), sqlite.ErrForeign, []string{"another program"}},
		{"newer", newer, sqlite.ErrNewer, []string{"schema 9999", "start the newer program", "not changed"}},
	} {
		before, _ := os.ReadFile(c.path)
		s, err := sqlite.Open(t.Context(), c.path, nil)
		if err == nil {
			s.Close()
			t.Errorf("%s: opened", c.name)
			continue
		}
		var oe *sqlite.OpenError
		if !errors.As(err, &oe) || oe.Problem == "" || oe.Do == "" {
			t.Errorf("%s: got %v, want an OpenError that says what to do", c.name, err)
		}
		if c.is != nil && !errors.Is(err, c.is) {
			t.Errorf("%s: got %v, want %v", c.name, err, c.is)
		}
		for _, want := range c.says {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %q does not say %q", c.name, err, want)
			}
		}
		if after, _ := os.ReadFile(c.path); !bytes.Equal(before, after) {
			t.Errorf("%s: the file was changed", c.name)
		}
	}
}

func TestOpenWithoutPermission(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("modes do not bind root")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "jobs.db")
	openIn(t, dir).Close()
	for _, c := range []struct {
		name string
		what string
		mode fs.FileMode
		path string
	}{
		{"file read-only", path, 0o400, path},
		{"file closed", path, 0, path},
		{"directory read-only", dir, 0o500, filepath.Join(dir, "sub", "jobs.db")},
		{"directory closed", dir, 0, path},
		{"no room for the -wal file", dir, 0o500, path},
	} {
		info, err := os.Stat(c.what)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(c.what, c.mode); err != nil {
			t.Fatal(err)
		}
		s, err := sqlite.Open(t.Context(), c.path, nil)
		if err == nil {
			s.Close()
			t.Errorf("%s: opened", c.name)
		} else if !strings.Contains(err.Error(), "correct the owner or the mode") {
			t.Errorf("%s: got %v, want what to do about the permission", c.name, err)
		}
		if err := os.Chmod(c.what, info.Mode().Perm()); err != nil {
			t.Fatal(err)
		}
	}
}

func TestOpenDamaged(t *testing.T) {
	dir := t.TempDir()
	openIn(t, dir).Close()
	path := filepath.Join(dir, "jobs.db")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := 100; i < len(data); i++ { // all behind the file header of 100 bytes
		data[i] = 0xa5
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	s, err := sqlite.Open(t.Context(), path, nil)
	if err == nil {
		s.Close()
		t.Fatal("opened")
	}
	if !strings.Contains(err.Error(), "is damaged") || !strings.Contains(err.Error(), "last backup") {
		t.Errorf("got %v", err)
	}
}

// Two processes may start at once: one waits for the other's lock.
func TestOpenWaitsForLock(t *testing.T) {
	dir := t.TempDir()
	db := raw(t, filepath.Join(dir, "jobs.db"))
	run(t, db, "PRAGMA user_version = 0") // writes the header
	run(t, db, "BEGIN EXCLUSIVE")
	released := make(chan time.Time, 1)
	time.AfterFunc(150*time.Millisecond, func() {
		if _, err := db.Exec("COMMIT"); err != nil {
			t.Error(err)
		}
		released <- time.Now()
	})
	openIn(t, dir).Close()
	if now := time.Now(); now.Before(<-released) {
		t.Error("opened while another process had the lock")
	}
}

// The promise of durability rests on these settings of the connections.
func TestSettings(t *testing.T) {
	s := open(t).(*sqlite.Store)
	defer s.Close()
	for _, c := range []struct {
		name, pragma, want string
		db                 *sql.DB
	}{
		{"writer", "journal_mode", "wal", s.Writer()},
		{"writer", "synchronous", "2", s.Writer()}, // FULL
		{"writer", "foreign_keys", "1", s.Writer()},
		{"writer", "busy_timeout", "5000", s.Writer()},
		{"writer", "query_only", "0", s.Writer()},
		{"reader", "query_only", "1", s.Reader()},
		{"reader", "busy_timeout", "5000", s.Reader()},
	} {
		var got string
		if err := c.db.QueryRow("PRAGMA " + c.pragma).Scan(&got); err != nil || got != c.want {
			t.Errorf("%s: %s is %s, %v; want %s", c.name, c.pragma, got, err, c.want)
		}
	}
	if _, err := s.Reader().Exec("DELETE FROM seen"); err == nil {
		t.Error("a reading connection can write")
	}
	if n := s.Writer().Stats().MaxOpenConnections; n != 1 {
		t.Errorf("%d writing connections, want 1", n)
	}
}
