-- Jobs, their trails, what was received, what is to be sent, timers, contents.
-- Times are milliseconds since 1970 UTC. Files in this directory are append-only.

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

CREATE UNIQUE INDEX job_open ON job (adapter, conversation) WHERE closed = 0;
CREATE INDEX job_unanswered ON job (n) WHERE heard > answered;
CREATE INDEX job_opened ON job (opened, n);

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

CREATE TABLE seen (
	adapter TEXT    NOT NULL,
	event   TEXT    NOT NULL,
	job     TEXT    NOT NULL,
	seq     INTEGER NOT NULL,
	PRIMARY KEY (adapter, event),
	FOREIGN KEY (job, seq) REFERENCES record (job, seq)
) STRICT;

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

CREATE INDEX outbox_waiting ON outbox (adapter, conversation, n) WHERE state = 'waiting';

CREATE TABLE timer (
	job  TEXT    NOT NULL REFERENCES job (id),
	name TEXT    NOT NULL,
	due  INTEGER NOT NULL,
	PRIMARY KEY (job, name)
) STRICT;

CREATE INDEX timer_due ON timer (due);

CREATE TABLE content (
	hash TEXT NOT NULL PRIMARY KEY,     -- hex SHA-256
	data BLOB NOT NULL
) STRICT;
