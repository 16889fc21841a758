-- The user who entered a mark; '' where nobody is asked who he is.
ALTER TABLE marks ADD COLUMN entered_by TEXT NOT NULL DEFAULT '';
