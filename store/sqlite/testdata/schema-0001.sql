-- A database with migrations up to 0001, by the sqlite3 program's .dump; the header is added.
PRAGMA application_id = 1214344294;
PRAGMA user_version = 1;
PRAGMA foreign_keys=OFF;
BEGIN TRANSACTION;
CREATE TABLE migration (
	n    INTEGER PRIMARY KEY,
	name TEXT NOT NULL
) STRICT;
INSERT INTO migration VALUES(1,'0001_jobs.sql');
CREATE TABLE job (
	n            INTEGER PRIMARY KEY,   -- order of opening
	id           TEXT    NOT NULL UNIQUE,
	adapter      TEXT    NOT NULL,
	conversation TEXT    NOT NULL,
	opened       INTEGER NOT NULL,
	last         INTEGER NOT NULL,
	version      INTEGER NOT NULL,      -- seq of the last record
	heard        INTEGER NOT NULL,      -- seq of the last record written by an incoming event
	answered     INTEGER NOT NULL,
	closed       INTEGER NOT NULL CHECK (closed IN (0, 1))
) STRICT;
INSERT INTO job VALUES(1,'job-a','console','bench',1774746000001,1774746000002,2,1,1,0);
CREATE TABLE record (
	job    TEXT    NOT NULL REFERENCES job (id),
	seq    INTEGER NOT NULL CHECK (seq > 0),
	schema INTEGER NOT NULL,
	kind   TEXT    NOT NULL,
	at     INTEGER NOT NULL,
	person TEXT    NOT NULL,
	data   BLOB    NOT NULL,            -- JSON, never rewritten
	PRIMARY KEY (job, seq)
) STRICT;
INSERT INTO record VALUES('job-a',1,1,'heard',1774746000001,'console:ann',X'7b2274657874223a22313220cea9227d');
INSERT INTO record VALUES('job-a',2,1,'said',1774746000002,'',X'7b22636f6465223a2268656c6c6f227d');
CREATE TABLE seen (
	adapter TEXT    NOT NULL,
	event   TEXT    NOT NULL,
	job     TEXT    NOT NULL,
	seq     INTEGER NOT NULL,
	PRIMARY KEY (adapter, event),
	FOREIGN KEY (job, seq) REFERENCES record (job, seq)
) STRICT;
INSERT INTO seen VALUES('console','e1','job-a',1);
CREATE TABLE outbox (
	n            INTEGER PRIMARY KEY,   -- order of sending within a conversation
	id           TEXT    NOT NULL UNIQUE,
	job          TEXT    NOT NULL REFERENCES job (id),
	adapter      TEXT    NOT NULL,
	conversation TEXT    NOT NULL,
	body         TEXT    NOT NULL,
	choices      TEXT    NOT NULL,      -- JSON
	prompt       INTEGER NOT NULL,
	state        TEXT    NOT NULL DEFAULT 'waiting' CHECK (state IN ('waiting', 'sent', 'dropped')),
	attempt      INTEGER NOT NULL DEFAULT 0,
	owner        TEXT    NOT NULL DEFAULT '',
	lease_until  INTEGER NOT NULL DEFAULT 0,
	not_before   INTEGER NOT NULL DEFAULT 0,
	ref          TEXT    NOT NULL DEFAULT '',
	why          TEXT    NOT NULL DEFAULT ''
) STRICT;
INSERT INTO outbox VALUES(1,'job-a/1/1','job-a','console','bench','Ω µ < & * _ \ ''x''','[{"word":"yes","label":"yes","value":"held"},{"word":"no","label":"no","value":"tripped"}]',2,'waiting',0,'',0,0,'','');
CREATE TABLE timer (
	job  TEXT    NOT NULL REFERENCES job (id),
	name TEXT    NOT NULL,
	due  INTEGER NOT NULL,
	PRIMARY KEY (job, name)
) STRICT;
INSERT INTO timer VALUES('job-a','silence',1774746300001);
CREATE TABLE content (
	hash TEXT NOT NULL PRIMARY KEY,     -- hex SHA-256
	data BLOB NOT NULL
) STRICT;
INSERT INTO content VALUES('4f7eb76dfaf33c142c5b17a630c7439e9698ca756488cbf857e753f6063c04b5',X'756e69743a20706c617465207761726d65720a');
CREATE UNIQUE INDEX job_open ON job (adapter, conversation) WHERE closed = 0;
CREATE INDEX job_unanswered ON job (n) WHERE heard > answered;
CREATE INDEX job_opened ON job (opened, n);
CREATE INDEX outbox_waiting ON outbox (adapter, conversation, n) WHERE state = 'waiting';
CREATE INDEX timer_due ON timer (due);
COMMIT;
