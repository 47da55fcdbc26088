CREATE TABLE rosters (
  roster TEXT NOT NULL PRIMARY KEY,
  title TEXT NOT NULL,
  bands TEXT,
  created_at_ms INTEGER NOT NULL,
  updated_at_ms INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE athletes (
  roster TEXT NOT NULL REFERENCES rosters (roster),
  athlete TEXT NOT NULL,
  profile TEXT NOT NULL,
  created_at_ms INTEGER NOT NULL,
  updated_at_ms INTEGER NOT NULL,
  last_sequence INTEGER NOT NULL CHECK (last_sequence >= 1),
  PRIMARY KEY (roster, athlete)
) STRICT, WITHOUT ROWID;

-- Clustered by athlete, so that one athlete's log is one run of pages however many athletes write.
CREATE TABLE events (
  roster TEXT NOT NULL,
  athlete TEXT NOT NULL,
  sequence INTEGER NOT NULL CHECK (sequence >= 1),
  kind TEXT NOT NULL CHECK (kind IN ('recorded', 'corrected', 'withdrawn', 'profiled')),
  client_set_id TEXT CHECK ((client_set_id IS NULL) = (kind = 'profiled')),
  arrived_at_ms INTEGER NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (roster, athlete, sequence),
  FOREIGN KEY (roster, athlete) REFERENCES athletes (roster, athlete)
) STRICT, WITHOUT ROWID;

-- Two partial indexes hold each event about a set once: the first makes a set recorded once.
CREATE UNIQUE INDEX events_recorded ON events (roster, athlete, client_set_id) WHERE kind = 'recorded';
CREATE INDEX events_amending ON events (roster, athlete, client_set_id) WHERE kind IN ('corrected', 'withdrawn');

CREATE TABLE prescriptions (
  roster TEXT NOT NULL,
  athlete TEXT NOT NULL,
  prescription TEXT NOT NULL,
  date TEXT NOT NULL,
  issued_at_ms INTEGER NOT NULL,
  log_position INTEGER NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (roster, athlete, prescription),
  FOREIGN KEY (roster, athlete) REFERENCES athletes (roster, athlete)
) STRICT;

CREATE INDEX prescriptions_by_day ON prescriptions (roster, athlete, date, issued_at_ms, prescription);

CREATE TABLE requests (
  roster TEXT NOT NULL,
  method TEXT NOT NULL,
  request_id TEXT NOT NULL,
  fingerprint BLOB NOT NULL CHECK (length(fingerprint) = 32),
  receipt TEXT NOT NULL,
  PRIMARY KEY (roster, method, request_id)
) STRICT, WITHOUT ROWID;
