-- "Pour" in ASCII: tells a journal from any other SQLite file.
PRAGMA application_id = 0x506f7572;

CREATE TABLE probes (
  id   INTEGER PRIMARY KEY CHECK (id BETWEEN 1 AND 65535),
  name TEXT NOT NULL UNIQUE
) STRICT;

-- Readings not packed yet, in order of arrival.
CREATE TABLE tail (
  id               INTEGER PRIMARY KEY,
  probe            INTEGER NOT NULL,
  at_ms            INTEGER NOT NULL, -- since 1970-01-01 UTC
  temp             INTEGER NOT NULL, -- steps of 0.001 °C
  humidity         INTEGER NOT NULL, -- steps of 0.0001 of the ratio
  temp_quality     INTEGER NOT NULL,
  temp_fault       INTEGER NOT NULL,
  humidity_quality INTEGER NOT NULL,
  humidity_fault   INTEGER NOT NULL
) STRICT;

-- One block a probe and hour. The hour leads in the key, so blocks are appended at the end of the
-- table and read back in order of time.
CREATE TABLE blocks (
  id    INTEGER PRIMARY KEY,
  data  BLOB NOT NULL,
  hour  INTEGER AS (id >> 16) VIRTUAL, -- since 1970-01-01T00 UTC
  probe INTEGER AS (id & 65535) VIRTUAL
) STRICT;

-- Marks are only ever added.
CREATE TABLE marks (
  id         INTEGER PRIMARY KEY,
  kind       TEXT NOT NULL,
  mold       TEXT NOT NULL,
  at_ms      INTEGER NOT NULL,
  entered_ms INTEGER NOT NULL,
  corrects   INTEGER REFERENCES marks (id), -- NULL: none
  title      TEXT NOT NULL,
  place      TEXT NOT NULL,
  surface    TEXT NOT NULL,
  material   TEXT NOT NULL,
  subject    TEXT NOT NULL,
  finding    TEXT NOT NULL,
  note       TEXT NOT NULL
) STRICT;
