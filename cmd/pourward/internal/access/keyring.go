package access

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"sync"
	"time"

	"golang.org/x/crypto/bcrypt"

	"pourward/dashboards/page"
)

// How often a password may be tried: from one address, for one name, and by all together. One address
// alone cannot use up the tries for a name, and a name that is tried too often keeps its user out of the
// log-in only: sessions go on.
const (
	triesPerMinute     = 6
	triesAtOnce        = 6
	nameTriesPerMinute = 12
	nameTriesAtOnce    = 20
	allTriesPerMinute  = 60
	allTriesAtOnce     = 40
)

var errWrong = errors.New("the name or the password is not right")

// keyring checks passwords. To someone who asks, a name that is not known is like a wrong password: the
// answer, the time it takes and the tries left are the same.
type keyring struct {
	hashes                   map[string]string
	decoy                    []byte // hash that is compared where there is no user
	byAddress, byName, byAll *limit

	turn sync.Mutex // one comparison at a time: each takes a small board's core for a while

	mu    sync.Mutex
	key   [32]byte              // of the marks in known
	known map[[32]byte]struct{} // marks of names and passwords that were right, so that a scrape costs no comparison
}

func newKeyring(hashes map[string]string, now func() time.Time) (*keyring, error) {
	k := &keyring{
		hashes:    hashes,
		byAddress: newLimit(now, triesPerMinute, triesAtOnce),
		byName:    newLimit(now, nameTriesPerMinute, nameTriesAtOnce),
		byAll:     newLimit(now, allTriesPerMinute, allTriesAtOnce),
		known:     map[[32]byte]struct{}{},
	}
	_, _ = rand.Read(k.key[:]) // never fails (package crypto/rand)
	cost := leastCost
	for _, hash := range hashes {
		c, err := bcrypt.Cost([]byte(hash))
		if err != nil {
			return nil, err
		}
		cost = max(cost, c)
	}
	k.decoy = decoy(cost)
	return k, nil
}

// decoy is a hash of the form of bcrypt, of no known password: to compare with it takes as long as with
// that of a user.
func decoy(cost int) []byte {
	letters := base64.NewEncoding("./ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789").WithPadding(base64.NoPadding)
	salt, sum := make([]byte, 16), make([]byte, 23)
	_, _ = rand.Read(salt) // never fails (package crypto/rand)
	_, _ = rand.Read(sum)
	return fmt.Appendf(nil, "$2a$%02d$%s%s", cost, letters.EncodeToString(salt), letters.EncodeToString(sum))
}

// mark is what name and password are remembered by.
func (k *keyring) mark(user, password string) (m [32]byte) {
	h := hmac.New(sha256.New, k.key[:])
	h.Write([]byte(user + "\x00" + password)) // a name holds no zero byte
	return [32]byte(h.Sum(nil))
}

// check tells whether the password is the user's: nil, errWrong, or [page.ErrTooOften].
func (k *keyring) check(address, user, password string) error {
	mark := k.mark(user, password)
	k.mu.Lock()
	_, known := k.known[mark]
	k.mu.Unlock()
	if known {
		return nil
	}
	if !k.byAddress.allow(address) || !k.byName.allow(user) || !k.byAll.allow("") {
		return page.ErrTooOften
	}
	hash, is := []byte(k.hashes[user]), true
	if len(hash) == 0 {
		hash, is = k.decoy, false
	}
	k.turn.Lock()
	err := bcrypt.CompareHashAndPassword(hash, []byte(password))
	k.turn.Unlock()
	if err != nil || !is {
		return errWrong
	}
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(k.known) >= mostSessions { // passwords of more than 72 bytes have many equals
		clear(k.known)
	}
	k.known[mark] = struct{}{}
	return nil
}
