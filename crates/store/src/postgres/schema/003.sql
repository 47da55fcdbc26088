-- What is kept of those erased: nothing that names them. No sequence up to the last of these is given again in the roster.
CREATE TABLE erasures (
  roster TEXT COLLATE "C" NOT NULL REFERENCES rosters (roster),
  digest BYTEA NOT NULL CHECK (length(digest) = 32),
  last_sequence BIGINT NOT NULL CHECK (last_sequence >= 1),
  erased_at_ms BIGINT NOT NULL,
  PRIMARY KEY (roster, digest)
);

-- Who asked about whom: one row a call. An entry sorts by time. Rows are added and never changed, but that an erasure takes
-- out of them what names the erased.
CREATE TABLE accesses (
  roster TEXT COLLATE "C" NOT NULL REFERENCES rosters (roster),
  entry TEXT COLLATE "C" NOT NULL,
  at_ms BIGINT NOT NULL,
  athlete TEXT COLLATE "C",
  key TEXT COLLATE "C",
  method TEXT NOT NULL,
  code INTEGER NOT NULL,
  request BYTEA,
  PRIMARY KEY (roster, entry)
);

CREATE INDEX accesses_by_athlete ON accesses (roster, athlete, entry) WHERE athlete IS NOT NULL;
