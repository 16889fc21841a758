// Package faulty is a disk that fails on request, for tests of what must survive it. It stands between
// SQLite and the operating system's files, below the very code that runs in the shop: it sees every write
// and every sync, can let any of them fail, and can tell what a power cut at any of them would have left.
package faulty

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// Layer is the layer between SQLite and the files of this process. Keep it for the life of the process:
// SQLite goes on calling it.
type Layer struct {
	base  *sqlite3.Tsqlite3_vfs // the operating system's files
	under uintptr               // the same, as SQLite has it
	calls callbacks

	mu      sync.Mutex
	disks   []*Disk
	methods map[uintptr]uintptr // patched tables by the table they were made from
	open    sync.Map            // *file by SQLite's handle
}

// callbacks are kept here because SQLite holds bare addresses of them.
type callbacks struct {
	open     func(tls *libc.TLS, vfs, name, handle uintptr, flags int32, out uintptr) int32
	remove   func(tls *libc.TLS, vfs, name uintptr, sync int32) int32
	closed   func(tls *libc.TLS, handle uintptr) int32
	read     func(tls *libc.TLS, handle, buf uintptr, n int32, off int64) int32
	write    func(tls *libc.TLS, handle, buf uintptr, n int32, off int64) int32
	truncate func(tls *libc.TLS, handle uintptr, size int64) int32
	sync     func(tls *libc.TLS, handle uintptr, flags int32) int32
}

// file is one open file of a disk.
type file struct {
	disk *Disk
	name string
	base *sqlite3.Tsqlite3_io_methods
}

// Install puts the layer in place, for every file that is opened from now on. Once in a process.
func Install() (*Layer, error) {
	tls := libc.NewTLS()
	if rc := sqlite3.Xsqlite3_initialize(tls); rc != sqlite3.SQLITE_OK {
		return nil, fmt.Errorf("start SQLite: code %d", rc)
	}
	under := sqlite3.Xsqlite3_vfs_find(tls, 0)
	l := &Layer{base: at[sqlite3.Tsqlite3_vfs](under), under: under, methods: map[uintptr]uintptr{}}
	l.calls = callbacks{l.onOpen, l.onDelete, l.onClose, l.onRead, l.onWrite, l.onTruncate, l.onSync}
	name, err := libc.CString("faulty")
	if err != nil {
		return nil, err
	}
	own, vfs := cloned(tls, l.base)
	vfs.FpNext, vfs.FzName = 0, name
	vfs.FxOpen, vfs.FxDelete = address(&l.calls.open), address(&l.calls.remove)
	if rc := sqlite3.Xsqlite3_vfs_register(tls, own, 1); rc != sqlite3.SQLITE_OK {
		return nil, fmt.Errorf("put the layer in place: code %d", rc)
	}
	return l, nil
}

// at is what lies at an address that SQLite gave.
func at[T any](p uintptr) *T { return *(**T)(unsafe.Pointer(&p)) }

// address is how SQLite calls a function: the address of its closure.
func address[F any](f *F) uintptr { return *(*uintptr)(unsafe.Pointer(f)) }

// function is the function at an address of SQLite.
func function[F any](p uintptr) F { return *(*F)(unsafe.Pointer(&p)) }

// Over makes a disk of a folder, for the files that are opened in it from now on.
func (l *Layer) Over(dir string) *Disk {
	d := &Disk{dir: filepath.Clean(dir) + string(filepath.Separator)}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.disks = append(l.disks, d)
	return d
}

// Remove forgets a disk whose files are closed.
func (l *Layer) Remove(d *Disk) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.disks = slices.DeleteFunc(l.disks, func(x *Disk) bool { return x == d })
}

// diskOf finds the disk that a path lies on; nil for one that is let alone.
func (l *Layer) diskOf(path string) (d *Disk, name string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, d := range l.disks {
		if name, ok := strings.CutPrefix(path, d.dir); ok {
			return d, name
		}
	}
	return nil, ""
}

func (l *Layer) onOpen(tls *libc.TLS, _, name, handle uintptr, flags int32, out uintptr) int32 {
	var d *Disk
	var short string
	if name != 0 {
		d, short = l.diskOf(libc.GoString(name))
	}
	if d != nil {
		if f := d.ask(Op{Kind: Open, File: short}); f != None {
			return f.code(sqlite3.SQLITE_CANTOPEN)
		}
	}
	open := function[func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32](l.base.FxOpen)
	rc := open(tls, l.under, name, handle, flags, out)
	if rc != sqlite3.SQLITE_OK || d == nil {
		return rc
	}
	if flags&sqlite3.SQLITE_OPEN_CREATE != 0 && flags&(sqlite3.SQLITE_OPEN_WAL|sqlite3.SQLITE_OPEN_MAIN_JOURNAL) != 0 {
		d.note(Op{Kind: Create, File: short})
	}
	h := at[sqlite3.Tsqlite3_file](handle)
	l.open.Store(handle, &file{disk: d, name: short, base: at[sqlite3.Tsqlite3_io_methods](h.FpMethods)})
	h.FpMethods = l.patched(tls, h.FpMethods)
	return rc
}

// patched returns a table of methods like another, with this layer's in place of those that matter.
func (l *Layer) patched(tls *libc.TLS, from uintptr) uintptr {
	l.mu.Lock()
	defer l.mu.Unlock()
	if p := l.methods[from]; p != 0 {
		return p
	}
	p, m := cloned(tls, at[sqlite3.Tsqlite3_io_methods](from))
	m.FxClose, m.FxRead, m.FxWrite = address(&l.calls.closed), address(&l.calls.read), address(&l.calls.write)
	m.FxTruncate, m.FxSync = address(&l.calls.truncate), address(&l.calls.sync)
	l.methods[from] = p
	return p
}

// cloned copies something into memory of SQLite, which may not reckon with addresses in Go's.
func cloned[T any](tls *libc.TLS, from *T) (uintptr, *T) {
	p := sqlite3.Xsqlite3_malloc(tls, int32(unsafe.Sizeof(*from)))
	*at[T](p) = *from
	return p, at[T](p)
}

func (l *Layer) file(handle uintptr) *file {
	f, _ := l.open.Load(handle)
	return f.(*file)
}

func (l *Layer) onDelete(tls *libc.TLS, _, name uintptr, sync int32) int32 {
	d, short := l.diskOf(libc.GoString(name))
	if d != nil {
		if f := d.ask(Op{Kind: Delete, File: short}); f != None {
			return f.code(sqlite3.SQLITE_IOERR_DELETE)
		}
	}
	rc := function[func(*libc.TLS, uintptr, uintptr, int32) int32](l.base.FxDelete)(tls, l.under, name, sync)
	if d != nil && rc == sqlite3.SQLITE_OK {
		d.note(Op{Kind: Delete, File: short})
	}
	return rc
}

func (l *Layer) onClose(tls *libc.TLS, handle uintptr) int32 {
	f := l.file(handle)
	l.open.Delete(handle)
	return function[func(*libc.TLS, uintptr) int32](f.base.FxClose)(tls, handle)
}

func (l *Layer) onRead(tls *libc.TLS, handle, buf uintptr, n int32, off int64) int32 {
	f := l.file(handle)
	if fault := f.disk.ask(Op{Kind: Read, File: f.name, At: off}); fault != None {
		return fault.code(sqlite3.SQLITE_IOERR_READ)
	}
	return function[func(*libc.TLS, uintptr, uintptr, int32, int64) int32](f.base.FxRead)(tls, handle, buf, n, off)
}

func (l *Layer) onWrite(tls *libc.TLS, handle, buf uintptr, n int32, off int64) int32 {
	f := l.file(handle)
	op := Op{Kind: Write, File: f.name, At: off}
	fault := f.disk.ask(op)
	if fault != None && fault != Short {
		return fault.code(sqlite3.SQLITE_IOERR_WRITE)
	}
	if fault == Short {
		n /= 2
	}
	write := function[func(*libc.TLS, uintptr, uintptr, int32, int64) int32](f.base.FxWrite)
	rc := write(tls, handle, buf, n, off)
	if rc == sqlite3.SQLITE_OK {
		op.Data = append([]byte(nil), unsafe.Slice(at[byte](buf), n)...)
		f.disk.note(op)
	}
	if fault == Short {
		return sqlite3.SQLITE_FULL // SQLite's own answer to a write that the disk cut short
	}
	return rc
}

func (l *Layer) onTruncate(tls *libc.TLS, handle uintptr, size int64) int32 {
	f := l.file(handle)
	op := Op{Kind: Truncate, File: f.name, At: size}
	if fault := f.disk.ask(op); fault != None {
		return fault.code(sqlite3.SQLITE_IOERR_TRUNCATE)
	}
	rc := function[func(*libc.TLS, uintptr, int64) int32](f.base.FxTruncate)(tls, handle, size)
	if rc == sqlite3.SQLITE_OK {
		f.disk.note(op)
	}
	return rc
}

// onSync does not bother the real disk: what would be left of it is reckoned by [Disk.Left].
func (l *Layer) onSync(_ *libc.TLS, handle uintptr, _ int32) int32 {
	f := l.file(handle)
	op := Op{Kind: Sync, File: f.name}
	if fault := f.disk.ask(op); fault != None {
		op.Kind = lost // the system forgets what it could not write, and does not try again
		f.disk.note(op)
		return fault.code(sqlite3.SQLITE_IOERR_FSYNC)
	}
	f.disk.note(op)
	return sqlite3.SQLITE_OK
}
