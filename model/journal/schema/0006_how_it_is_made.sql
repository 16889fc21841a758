-- How a mold is made, what its face is, what lies on a patch's face, and what was weighed: '' where not told,
-- else JSON, but for the face.
ALTER TABLE marks ADD COLUMN design TEXT NOT NULL DEFAULT '';
ALTER TABLE marks ADD COLUMN face   TEXT NOT NULL DEFAULT '';
ALTER TABLE marks ADD COLUMN prep   TEXT NOT NULL DEFAULT '';
ALTER TABLE marks ADD COLUMN batch  TEXT NOT NULL DEFAULT '';
