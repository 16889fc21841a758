-- Where the probe of a mold sits: '' or 'pattern' on the pattern's face, 'rubber' in the rubber.
ALTER TABLE marks ADD COLUMN probe_in TEXT NOT NULL DEFAULT '';
