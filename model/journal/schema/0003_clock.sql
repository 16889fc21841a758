-- Every run of the kernel under which something was recorded, and how its time was labelled.
CREATE TABLE boots (
  id       TEXT PRIMARY KEY,
  zero_ms  INTEGER NOT NULL, -- label of the beginning of the boot
  first_ms INTEGER NOT NULL, -- label of the first thing recorded in it
  trusted  INTEGER NOT NULL CHECK (trusted IN (0, 1))
) STRICT;

-- When labels turned out wrong and what was recorded under them was dated anew.
CREATE TABLE shifts (
  id      INTEGER PRIMARY KEY,
  boot    TEXT NOT NULL,
  from_ms INTEGER NOT NULL, -- everything from this old label on
  by_ms   INTEGER NOT NULL
) STRICT;
