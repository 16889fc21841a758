-- What a mold is made of, as far as the maker told when it was begun.
ALTER TABLE marks ADD COLUMN pattern    TEXT NOT NULL DEFAULT '';
ALTER TABLE marks ADD COLUMN pattern_mm REAL NOT NULL DEFAULT 0;
ALTER TABLE marks ADD COLUMN rubber_mm  REAL NOT NULL DEFAULT 0;
ALTER TABLE marks ADD COLUMN shell      TEXT NOT NULL DEFAULT '';
ALTER TABLE marks ADD COLUMN shell_mm   REAL NOT NULL DEFAULT 0;
