CREATE TABLE keys (
  key TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  secret_hash BYTEA NOT NULL CHECK (length(secret_hash) = 32),
  role TEXT NOT NULL CHECK (role IN ('operator', 'coach', 'athlete', 'analyst')),
  title TEXT NOT NULL,
  created_at_ms BIGINT NOT NULL,
  expires_at_ms BIGINT,
  revoked_at_ms BIGINT
);

-- An empty athlete stands for everybody in the roster. Keys themselves are few and belong to no roster.
CREATE TABLE reaches (
  roster TEXT COLLATE "C" NOT NULL REFERENCES rosters (roster),
  key TEXT COLLATE "C" NOT NULL,
  athlete TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (roster, key, athlete)
);

CREATE INDEX reaches_by_key ON reaches (key, roster, athlete);
