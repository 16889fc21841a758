package faulty

import (
	"sync"

	sqlite3 "modernc.org/sqlite/lib"
)

// Kind is what is done to a file.
type Kind uint8

// What is done to files. Open and Read are not kept in the log.
const (
	Open Kind = iota + 1
	Read
	Create // with a name that SQLite makes safe together with the file, by a sync of the folder
	Write
	Truncate
	Sync
	Delete
	lost // a sync that failed
)

// Op is one thing done to a file.
type Op struct {
	Kind Kind
	File string // its name within the disk's folder
	At   int64  // offset of a read or write, length of a truncation
	Data []byte // what was written
}

// Fault is how an operation fails.
type Fault uint8

// Faults.
const (
	None     Fault = iota
	IOError        // the device fails
	NoSpace        // the disk is full
	Short          // the disk fills in the middle of a write; of other operations, as NoSpace
	ReadOnly       // the disk was mounted read-only
)

// code is what SQLite is told; ioerr says where the device failed.
func (f Fault) code(ioerr int32) int32 {
	switch f {
	case NoSpace, Short:
		return sqlite3.SQLITE_FULL
	case ReadOnly:
		return sqlite3.SQLITE_READONLY
	}
	return ioerr
}

// Disk is a folder whose files can be made to fail. Make one with [Layer.Over].
type Disk struct {
	dir string

	mu   sync.Mutex
	rule func(Op) Fault
	keep bool
	log  []Op
}

// Fail sets what fails from now on; nil lets all be well. The rule is called for one operation at a time.
func (d *Disk) Fail(rule func(Op) Fault) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.rule = rule
}

// Keep begins to keep the log of what is done to the files.
func (d *Disk) Keep() {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.keep = true
}

// Done returns how many operations are in the log.
func (d *Disk) Done() int {
	d.mu.Lock()
	defer d.mu.Unlock()
	return len(d.log)
}

// Log returns what was done so far.
func (d *Disk) Log() []Op {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.log[:len(d.log):len(d.log)]
}

func (d *Disk) ask(op Op) Fault {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.rule == nil {
		return None
	}
	return d.rule(op)
}

func (d *Disk) note(op Op) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.keep {
		d.log = append(d.log, op)
	}
}
