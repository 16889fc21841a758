package faulty

import (
	"maps"
	"math/rand/v2"
	"slices"
)

// Fate is what becomes, in a power cut, of what was not synced.
type Fate uint8

// Fates.
const (
	Gone      Fate = iota // all of it is lost
	Kept                  // all of it had reached the disk
	Torn                  // all but the last write, of which a part of its sectors had
	Scattered             // any of it had, in any order, some of it in part
	fates
)

// Fates lists them all.
func Fates() []Fate { return []Fate{Gone, Kept, Torn, Scattered} }

func (f Fate) String() string { return [fates]string{"gone", "kept", "torn", "scattered"}[f] }

// sector is what a disk writes whole or not at all.
const sector = 512

// Platter is what lies on a disk, as the operations of a log are done one after the other.
type Platter struct {
	safe    map[string][]byte // as it was last synced
	pending []Op              // since then
	created map[string]bool   // files whose next sync makes the folder safe as well
}

// NewPlatter returns one with files, by name, that are safe.
func NewPlatter(files map[string][]byte) *Platter {
	p := &Platter{safe: map[string][]byte{}, created: map[string]bool{}}
	for name, data := range files {
		p.safe[name] = slices.Clone(data) // what is written to it is not written to the caller's
	}
	return p
}

// Do does one more operation.
func (p *Platter) Do(op Op) {
	switch op.Kind {
	case Create:
		p.created[op.File] = true
	case Sync, lost:
		p.settle(op)
	default:
		p.pending = append(p.pending, op)
	}
}

// settle makes the pending operations of a file safe, or forgets them.
func (p *Platter) settle(sync Op) {
	var rest []Op
	if _, there := p.safe[sync.File]; !there && sync.Kind == Sync {
		p.safe[sync.File] = []byte{}
	}
	folder := p.created[sync.File] && sync.Kind == Sync
	delete(p.created, sync.File)
	for _, op := range p.pending {
		switch {
		case op.Kind == Delete && folder:
			apply(p.safe, op, nil)
		case op.File != sync.File:
			rest = append(rest, op)
		case sync.Kind == Sync:
			apply(p.safe, op, nil)
		}
	}
	p.pending = rest
}

// Left returns the files that a power cut now would leave, by name.
func (p *Platter) Left(fate Fate, random *rand.Rand) map[string][]byte {
	left := maps.Clone(p.safe)
	for name := range left {
		left[name] = slices.Clone(left[name])
	}
	for i, op := range p.pending {
		switch fate {
		case Gone:
		case Kept:
			apply(left, op, nil)
		case Torn:
			if i == len(p.pending)-1 {
				apply(left, op, random)
			} else {
				apply(left, op, nil)
			}
		case Scattered:
			switch random.IntN(4) {
			case 0, 1:
				apply(left, op, nil)
			case 2:
				apply(left, op, random)
			}
		}
	}
	return left
}

// apply does an operation to files. Where random is given, only some sectors of a write reach the disk.
func apply(files map[string][]byte, op Op, random *rand.Rand) {
	now := files[op.File]
	switch op.Kind {
	case Write:
		end := op.At + int64(len(op.Data))
		if grow := end - int64(len(now)); grow > 0 {
			now = append(now, make([]byte, grow)...)
		}
		for at := op.At; at < end; {
			next := min((at/sector+1)*sector, end)
			if random == nil || random.IntN(2) == 0 {
				copy(now[at:next], op.Data[at-op.At:next-op.At])
			}
			at = next
		}
		files[op.File] = now
	case Truncate:
		if random == nil && op.At < int64(len(now)) {
			files[op.File] = now[:op.At]
		}
	case Delete:
		delete(files, op.File)
	}
}
