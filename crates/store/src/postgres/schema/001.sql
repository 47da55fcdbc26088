-- Every key leads with the roster, so that the tables can be spread by it. Ids and days sort by their bytes.
CREATE TABLE rosters (
  roster TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  title TEXT NOT NULL,
  bands TEXT,
  created_at_ms BIGINT NOT NULL,
  updated_at_ms BIGINT NOT NULL
);

CREATE TABLE athletes (
  roster TEXT COLLATE "C" NOT NULL REFERENCES rosters (roster),
  athlete TEXT COLLATE "C" NOT NULL,
  profile TEXT NOT NULL,
  created_at_ms BIGINT NOT NULL,
  updated_at_ms BIGINT NOT NULL,
  last_sequence BIGINT NOT NULL CHECK (last_sequence >= 1),
  PRIMARY KEY (roster, athlete)
);

CREATE TABLE events (
  roster TEXT COLLATE "C" NOT NULL,
  athlete TEXT COLLATE "C" NOT NULL,
  sequence BIGINT NOT NULL CHECK (sequence >= 1),
  kind TEXT NOT NULL CHECK (kind IN ('recorded', 'corrected', 'withdrawn', 'profiled')),
  client_set_id TEXT COLLATE "C" CHECK ((client_set_id IS NULL) = (kind = 'profiled')),
  arrived_at_ms BIGINT NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (roster, athlete, sequence),
  FOREIGN KEY (roster, athlete) REFERENCES athletes (roster, athlete)
);

-- Two partial indexes hold each event about a set once: the first makes a set recorded once.
CREATE UNIQUE INDEX events_recorded ON events (roster, athlete, client_set_id) WHERE kind = 'recorded';
CREATE INDEX events_amending ON events (roster, athlete, client_set_id) WHERE kind IN ('corrected', 'withdrawn');

CREATE TABLE prescriptions (
  roster TEXT COLLATE "C" NOT NULL,
  athlete TEXT COLLATE "C" NOT NULL,
  prescription TEXT COLLATE "C" NOT NULL,
  date TEXT COLLATE "C" NOT NULL,
  issued_at_ms BIGINT NOT NULL,
  log_position BIGINT NOT NULL,
  body TEXT NOT NULL,
  PRIMARY KEY (roster, athlete, prescription),
  FOREIGN KEY (roster, athlete) REFERENCES athletes (roster, athlete)
);

CREATE INDEX prescriptions_by_day ON prescriptions (roster, athlete, date, issued_at_ms, prescription);

CREATE TABLE requests (
  roster TEXT COLLATE "C" NOT NULL,
  method TEXT COLLATE "C" NOT NULL,
  request_id TEXT COLLATE "C" NOT NULL,
  fingerprint BYTEA NOT NULL CHECK (length(fingerprint) = 32),
  receipt TEXT NOT NULL,
  PRIMARY KEY (roster, method, request_id)
);
