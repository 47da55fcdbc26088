CREATE TABLE keys (
  key TEXT NOT NULL PRIMARY KEY,
  secret_hash BLOB NOT NULL CHECK (length(secret_hash) = 32),
  role TEXT NOT NULL CHECK (role IN ('operator', 'coach', 'athlete', 'analyst')),
  title TEXT NOT NULL,
  created_at_ms INTEGER NOT NULL,
  expires_at_ms INTEGER,
  revoked_at_ms INTEGER
) STRICT, WITHOUT ROWID;

-- An empty athlete stands for everybody in the roster. Keys themselves are few and belong to no roster.
CREATE TABLE reaches (
  roster TEXT NOT NULL REFERENCES rosters (roster),
  key TEXT NOT NULL REFERENCES keys (key),
  athlete TEXT NOT NULL,
  PRIMARY KEY (roster, key, athlete)
) STRICT, WITHOUT ROWID;

CREATE INDEX reaches_by_key ON reaches (key, roster, athlete);
