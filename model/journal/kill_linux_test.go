package journal

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"
	"testing"
)

// A writer that is killed as it writes or syncs, at a call that a kill at a random instant seldom meets, keeps what it
// confirmed. Each file is killed five times, now early and now late; the calls are counted anew each time.
func TestKilledAtACallKeepsWhatItConfirmed(t *testing.T) {
	kills := killsOr(t, 20)
	seed := rand.Uint64()
	t.Logf("%d kills, seed %d", kills, seed)
	random := rand.New(rand.NewPCG(seed, 0))
	dir := t.TempDir()
	met := 0
	for i := range kills {
		path := filepath.Join(dir, fmt.Sprintf("%d.journal", i/5))
		call, most := "pwrite64", 120
		if i%2 == 1 {
			call, most = "fsync", 40
		}
		said := killedAt(t, path, call, 1+random.IntN(most))
		requireKept(t, path, said)
		if said.readings > 0 {
			met++
		}
	}
	t.Logf("%d of them after something had been confirmed", met)
}
