package chips_test

import (
	"fmt"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/physic"

	"pourward/sensors/chips"
)

// babble is a bus on which everything is answered by given bytes, over and over; 0x4E before a
// transaction refuses it.
type babble struct {
	bytes []byte
	next  int
	count int
}

func (b *babble) String() string                  { return "babble" }
func (b *babble) SetSpeed(physic.Frequency) error { return nil }
func (b *babble) byte() byte                      { b.next++; return b.bytes[b.next%len(b.bytes)] }
func (b *babble) Tx(_ uint16, _, r []byte) error {
	b.count++
	if b.byte() == 0x4E {
		return fmt.Errorf("babble: %w", syscall.Errno(121))
	}
	for i := range r {
		r[i] = b.byte()
	}
	return nil
}

// Whatever bytes come, opening and measuring end soon, without a panic, and a look as well.
func FuzzAnyBytes(f *testing.F) {
	for i := range rigs() {
		f.Add(uint8(i), []byte{0})
		f.Add(uint8(i), []byte{0xFF, 0x4E})
	}
	f.Add(uint8(1), []byte{0x66, 0x66, 0x93, 0x66, 0x66, 0x93, 0x66})                         // words with their checksums
	f.Add(uint8(5), []byte{0x18, 0x75, 0x52, 0x05, 0x8E, 0x40, 0x7F, 0x00})                   // a frame of AHT20
	f.Add(uint8(6), []byte{0x00, 0x00, 0x00, 0x03, 0x04, 0x01, 0xF4, 0x00, 0xFA, 0x31, 0xA5}) // an answer of AM2320
	f.Fuzz(func(t *testing.T, which uint8, bytes []byte) {
		if len(bytes) == 0 {
			return
		}
		r := rigs()[int(which)%len(rigs())]
		synctest.Test(t, func(t *testing.T) {
			bus := &babble{bytes: bytes}
			began := time.Now()
			p, err := r.open(bus, r.addr)(t.Context())
			for i := 0; i < 3 && err == nil; i++ {
				_, err = p.Sense(t.Context())
			}
			require.Less(t, time.Since(began), 40*time.Second)
			require.Less(t, bus.count, 600)
			chips.Look(t.Context(), bus, "/none")
		})
	})
}
