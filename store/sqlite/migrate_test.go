package sqlite_test

import (
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"testing/fstest"

	"halfsplit/bot"
	"halfsplit/store/sqlite"
)

// written holds the SHA-256 of each migration that was released. They are append-only:
// add a line, never change one. A changed file would leave databases in two forms under
// one number.
var written = []struct{ name, sum string }{
	{"0001_jobs.sql", "ae9e8d28dc4dcf403da114a6d1dc058e824e34b77da66685a539a2cab6b98b04"},
}

func TestMigrationsAreAppendOnly(t *testing.T) {
	entries, err := os.ReadDir("migrations")
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != len(written) {
		t.Errorf("%d migrations, %d sums", len(entries), len(written))
	}
	for i, e := range entries[:min(len(entries), len(written))] {
		data, err := os.ReadFile(filepath.Join("migrations", e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		sum := sha256.Sum256(data)
		if got := hex.EncodeToString(sum[:]); e.Name() != written[i].name || got != written[i].sum {
			t.Errorf("%s has sum %s; released was %s with %s", e.Name(), got, written[i].name, written[i].sum)
		}
	}
}

// schema is what a database declares, to compare two of them.
func schema(t *testing.T, db *sql.DB) []string {
	t.Helper()
	rows, err := db.Query("SELECT type, name, coalesce(sql, '') FROM sqlite_schema ORDER BY type, name")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var kind, name, text string
		if err := rows.Scan(&kind, &name, &text); err != nil {
			t.Fatal(err)
		}
		out = append(out, kind+" "+name+" "+strings.Join(strings.Fields(text), " "))
	}
	if err := rows.Err(); err != nil {
		t.Fatal(err)
	}
	return out
}

// Each file testdata/schema-NNNN.sql is a database as a program with migrations up to
// NNNN left it, written out with the sqlite3 program's .dump.
func TestMigrationFromEachSchema(t *testing.T) {
	files, err := filepath.Glob("testdata/schema-*.sql")
	if err != nil {
		t.Fatal(err)
	}
	if len(files) != len(written) {
		t.Errorf("%d databases of earlier schemas for %d migrations", len(files), len(written))
	}
	fresh := open(t).(*sqlite.Store)
	defer fresh.Close()
	want := schema(t, fresh.Reader())
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		db := raw(t, filepath.Join(dir, "jobs.db"))
		run(t, db, string(text))
		db.Close()
		s := openIn(t, dir).(*sqlite.Store)
		if got := schema(t, s.Reader()); !reflect.DeepEqual(got, want) {
			t.Errorf("%s: schema after migration\n got %q\nwant %q", f, got, want)
		}
		trail, err := s.Load(t.Context(), "job-a")
		if err != nil || len(trail) != 2 || trail[0].Kind != "heard" || trail[1].Kind != "said" ||
			string(trail[0].Data) != `{"text":"12 Ω"}` || trail[0].At != 1774746000001 || trail[0].By != "console:ann" {
			t.Errorf("%s: trail is %+v, %v", f, trail, err)
		}
		m, err := s.Claim(t.Context(), "console", "sender", 1, 2)
		if err != nil || m.Key != "job-a/1/1" || m.Text != "Ω µ < & * _ \\ 'x'" || len(m.Choices) != 2 || m.Prompt != 2 {
			t.Errorf("%s: message is %+v, %v", f, m, err)
		}
		due, err := s.Due(t.Context(), 1774746300001)
		if err != nil || len(due) != 1 || due[0] != (bot.Timer{Job: "job-a", Name: "silence", Due: 1774746300001}) {
			t.Errorf("%s: timers are %+v, %v", f, due, err)
		}
		if data, err := s.Blob(t.Context(), bot.BlobHash([]byte("unit: plate warmer\n"))); err != nil || string(data) != "unit: plate warmer\n" {
			t.Errorf("%s: blob is %q, %v", f, data, err)
		}
		again := bot.Incoming{Adapter: "console", Conversation: "bench", Keys: []bot.EventID{"e1"}}
		if _, err := s.Hear(t.Context(), again, "job-b", bot.Record{}); !errors.Is(err, bot.ErrSeen) {
			t.Errorf("%s: redelivery: got %v, want %v", f, err, bot.ErrSeen)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestMigrateRunner(t *testing.T) {
	file := func(s string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(s)} }
	fsys := fstest.MapFS{
		"m/0001_a.sql": file("CREATE TABLE a (n INTEGER) STRICT; INSERT INTO a VALUES (1);"),
		"m/0002_b.sql": file("CREATE TABLE b (n INTEGER) STRICT; INSERT INTO a VALUES (2); INSERT INTO nowhere VALUES (1);"),
	}
	db := raw(t, filepath.Join(t.TempDir(), "x.db"))
	count := func(query string) (n int) {
		t.Helper()
		if err := db.QueryRow(query).Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	for range 2 {
		err := sqlite.Migrate(t.Context(), db, fsys, "m")
		if err == nil || !strings.Contains(err.Error(), "0002_b.sql") || !strings.Contains(err.Error(), "nowhere") {
			t.Fatalf("got %v, want an error that names the step and the cause", err)
		}
		if v, n := count("PRAGMA user_version"), count("SELECT count(*) FROM a"); v != 1 || n != 1 {
			t.Fatalf("after a failed step: version %d, %d rows; want the state before it (1, 1)", v, n)
		}
		if n := count("SELECT count(*) FROM sqlite_schema WHERE name = 'b'"); n != 0 {
			t.Fatal("a failed step left a table")
		}
	}
	fsys["m/0002_b.sql"] = file("CREATE TABLE b (n INTEGER) STRICT; INSERT INTO a VALUES (2);")
	fsys["m/0003_c.sql"] = file("INSERT INTO b VALUES (3);")
	for range 2 {
		if err := sqlite.Migrate(t.Context(), db, fsys, "m"); err != nil {
			t.Fatal(err)
		}
		if v, n := count("PRAGMA user_version"), count("SELECT (SELECT count(*) FROM a) * 10 + (SELECT count(*) FROM b)"); v != 3 || n != 21 {
			t.Fatalf("version %d, rows %d; want 3 and each step run once (21)", v, n)
		}
	}
	if n := count("SELECT count(*) FROM migration WHERE name LIKE '000_%.sql' AND n BETWEEN 1 AND 3"); n != 3 {
		t.Errorf("%d steps recorded, want 3", n)
	}
	if app := count("PRAGMA application_id"); app != sqlite.Application {
		t.Errorf("application id %#x, want %#x", app, sqlite.Application)
	}
	delete(fsys, "m/0003_c.sql")
	if err := sqlite.Migrate(t.Context(), db, fsys, "m"); !errors.Is(err, sqlite.ErrNewer) {
		t.Errorf("an older program: got %v, want %v", err, sqlite.ErrNewer)
	}
	for _, name := range []string{"m/0004_gap.sql", "m/3_short.sql", "m/x.sql"} {
		fsys[name] = file("")
		if err := sqlite.Migrate(t.Context(), db, fsys, "m"); err == nil {
			t.Errorf("%s was accepted", name)
		}
		delete(fsys, name)
	}
}
