-- Thickness of the dry film that a coat makes, µm; 0 where not told.
ALTER TABLE marks ADD COLUMN film_um REAL NOT NULL DEFAULT 0;
