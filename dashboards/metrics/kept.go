package metrics

import (
	"bytes"
	"errors"
	"fmt"
	"sync"
	"weak"

	"github.com/prometheus/common/expfmt"
	names "github.com/prometheus/common/model"

	"pourward/model"
)

// kept is the snapshot that was asked for last, written out as it was asked for, so that a crowd of scrapes makes
// the shop write it once. Nothing else is kept: the next snapshot or another format takes its place.
type kept struct {
	mu     sync.Mutex                   // held while it is written out: who comes meanwhile waits for that
	of     weak.Pointer[model.Snapshot] // so that a shop that nobody scrapes any more holds no old snapshot
	format expfmt.Format
	text   []byte // never changed once it is given away
	err    error
}

// as is the snapshot in a format, without what would end an exposition.
func (k *kept) as(s *model.Snapshot, format expfmt.Format) []byte {
	k.mu.Lock()
	defer k.mu.Unlock()
	if of := weak.Make(s); of != k.of || format != k.format {
		k.text, k.err = written(s, format, len(k.text))
		k.of, k.format = of, format
	}
	return k.text
}

// trouble is what of it could not be told.
func (k *kept) trouble() error {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.err
}

// written is what a snapshot tells in a format. about is how long it may be.
func written(s *model.Snapshot, format expfmt.Format, about int) ([]byte, error) {
	all, err := Gather(s)
	var out bytes.Buffer
	out.Grow(about + about/64)
	// No name of ours needs to be escaped, which a test holds, so that looking for one that does can be spared.
	to := expfmt.NewEncoder(&out, format.WithEscapingScheme(names.NoEscaping))
	for _, f := range all {
		if failed := to.Encode(f); failed != nil {
			err = errors.Join(err, fmt.Errorf("write %s: %w", f.GetName(), failed))
		}
	}
	return out.Bytes(), err
}
