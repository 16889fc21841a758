package checkup

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sys/unix"
)

// Free space below which the disk is to be looked at, and is broken. Four probes at 10 s need about 40 MB a year;
// the rest is for the write-ahead log and a backup. Assumptions.
const (
	littleSpace = 300 << 20 // bytes
	noSpace     = 16 << 20
)

// slowSync is how long a write to the disk may take before a mark at the bench feels slow. An assumption.
const slowSync = 2 * time.Second

// unfit are file systems on which the promise of the record does not hold, with the reason (statfs(2) for the
// numbers; SQLite's "How To Corrupt An SQLite Database File" on network file systems).
func unfit(kind int64) string {
	switch uint32(kind) {
	case unix.TMPFS_MAGIC, unix.RAMFS_MAGIC:
		return "is kept in memory: a power cut takes everything"
	case unix.NFS_SUPER_MAGIC, unix.SMB_SUPER_MAGIC, unix.SMB2_SUPER_MAGIC, unix.CIFS_SUPER_MAGIC, unix.V9FS_MAGIC, unix.FUSE_SUPER_MAGIC:
		return "belongs to another computer or program: its locks and syncs cannot be relied on"
	case unix.MSDOS_SUPER_MAGIC:
		return "is of the FAT family, which a power cut can damage as a whole"
	}
	return ""
}

// Disk looks at the folder of the record: that it can be written and synced, on what it lies, and what is free.
func Disk(folder string) (out []Finding) {
	info, err := os.Stat(folder)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return []Finding{broken("disk", fmt.Sprintf("make it, for the daemon's user: sudo install -d -o pourward -g pourward -m 0750 %s", folder), "%s is not there", folder)}
	case err != nil:
		return []Finding{broken("disk", "let the daemon's user into that folder", "%v", err)}
	case !info.IsDir():
		return []Finding{broken("disk", "name a file in a folder under journal", "%s is no folder", folder)}
	}
	var s unix.Statfs_t
	if err := unix.Statfs(folder, &s); err != nil {
		return []Finding{broken("disk", "name a file on another disk under journal", "%s cannot be looked at: %v", folder, err)}
	}
	if s.Flags&unix.ST_RDONLY != 0 {
		return []Finding{broken("disk", "see why with dmesg (a disk that fails is made read-only); else: sudo mount -o remount,rw", "%s lies on a disk mounted read-only", folder)}
	}
	if why := unfit(int64(s.Type)); why != "" {
		out = append(out, look("disk", "name a file on the board's own disk (ext4, btrfs, f2fs, xfs) under journal", "what %s lies on %s", folder, why))
	}
	return append(out, space(folder, s.Bavail*uint64(s.Bsize), s.Files > 0 && s.Ffree == 0), tryDisk(folder))
}

// space judges what is free.
func space(folder string, free uint64, noFiles bool) Finding {
	const mega = 1 << 20
	switch {
	case noFiles:
		return broken("disk", "delete files that nobody needs: their number is the limit", "%s: the disk can hold no more files", folder)
	case free < noSpace:
		return broken("disk", "free some space: marks are refused when the disk is full", "%s: %d MB free", folder, free/mega)
	case free < littleSpace:
		return look("disk", "free some space before it is gone", "%s: %d MB free", folder, free/mega)
	}
	return ok("disk", "%s: %d MB free", folder, free/mega)
}

// tryDisk writes and syncs a small file, and deletes it.
func tryDisk(folder string) Finding {
	begun := time.Now()
	err := writeSynced(folder)
	took := time.Since(begun)
	switch {
	case errors.Is(err, fs.ErrPermission):
		return broken("disk", "let the daemon's user own it: sudo chown -R pourward:pourward "+folder, "%s may not be written by this user", folder)
	case err != nil:
		return broken("disk", "free space, or see with dmesg what the disk says", "%s: %v", folder, err)
	case took > slowSync:
		return look("disk", "the disk is slow, or worn: a card that takes seconds to write is about to fail", "%s: writing 4 kB took %.1f s", folder, took.Seconds())
	}
	return ok("disk", "%s can be written and synced", folder)
}

func writeSynced(folder string) (err error) {
	f, err := os.CreateTemp(folder, ".pourward-trial-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close(), os.Remove(filepath.Join(folder, filepath.Base(f.Name())))) }()
	if _, err := f.Write(make([]byte, 4096)); err != nil {
		return err
	}
	return f.Sync()
}
