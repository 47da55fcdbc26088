-- What is kept of those erased: nothing that names them. No sequence up to the last of these is given again in the roster.
-- Until a row is swept, bytes of what was erased may be left in the file.
CREATE TABLE erasures (
  roster TEXT NOT NULL REFERENCES rosters (roster),
  digest BLOB NOT NULL CHECK (length(digest) = 32),
  last_sequence INTEGER NOT NULL CHECK (last_sequence >= 1),
  erased_at_ms INTEGER NOT NULL,
  is_swept INTEGER NOT NULL CHECK (is_swept IN (0, 1)),
  PRIMARY KEY (roster, digest)
) STRICT, WITHOUT ROWID;

-- Who asked about whom: one row a call. An entry sorts by time. Rows are added and never changed, but that an erasure takes
-- out of them what names the erased.
CREATE TABLE accesses (
  roster TEXT NOT NULL REFERENCES rosters (roster),
  entry TEXT NOT NULL,
  at_ms INTEGER NOT NULL,
  athlete TEXT,
  key TEXT,
  method TEXT NOT NULL,
  code INTEGER NOT NULL,
  request BLOB,
  PRIMARY KEY (roster, entry)
) STRICT, WITHOUT ROWID;

CREATE INDEX accesses_by_athlete ON accesses (roster, athlete, entry) WHERE athlete IS NOT NULL;
