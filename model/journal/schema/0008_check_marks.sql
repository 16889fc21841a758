-- A checksum of every mark; -1 until it has been worked out, which is done when the journal is next opened for writing.
ALTER TABLE marks ADD COLUMN crc INTEGER NOT NULL DEFAULT -1;
