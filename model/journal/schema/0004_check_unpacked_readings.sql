-- A checksum of every reading that is not packed yet; -1 for those written before there was one.
ALTER TABLE tail ADD COLUMN crc INTEGER NOT NULL DEFAULT -1;
