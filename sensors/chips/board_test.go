package chips

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"pourward/sensors"
)

// flaky is an adapter that answers with one error after the other.
type flaky struct {
	errs   []error
	closed int
}

func (f *flaky) transfer(uint16, []byte, []byte) error {
	err := f.errs[0]
	f.errs = f.errs[1:]
	return err
}

func (f *flaky) Close() error {
	f.closed++
	return nil
}

func TestBoardDropsAnAdapterThatWentAway(t *testing.T) {
	a := &flaky{errs: []error{nil, syscall.ENXIO, nil, syscall.ENODEV}}
	b := &Board{path: filepath.Join(t.TempDir(), "i2c-7"), adapter: a}
	require.NoError(t, b.Tx(0x76, nil, make([]byte, 1)))
	require.ErrorIs(t, b.Tx(0x76, nil, make([]byte, 1)), syscall.ENXIO)
	require.NoError(t, b.Tx(0x76, nil, make([]byte, 1)), "a silent chip is no reason to close the bus")
	require.ErrorIs(t, b.Tx(0x76, nil, make([]byte, 1)), syscall.ENODEV)
	require.Equal(t, 1, a.closed)
	err := b.Tx(0x76, nil, make([]byte, 1))
	require.True(t, errors.Is(err, os.ErrNotExist), "it is opened again: %v", err)
	require.NoError(t, b.Close())
	require.Error(t, b.SetSpeed(1))
}

// The names of files are those of the kernel's list of I²C devices.
func TestBoardKnowsItsOwners(t *testing.T) {
	sys := t.TempDir()
	require.NoError(t, os.MkdirAll(filepath.Join(sys, "7-0018"), 0o755))
	require.NoError(t, os.Symlink("../../../../bus/i2c/drivers/jc42", filepath.Join(sys, "7-0018", "driver")))
	b := &Board{path: "/dev/i2c-7", sys: sys}
	require.Equal(t, "jc42", b.Owner(0x18))
	require.Empty(t, b.Owner(0x76))
	_, err := Bridge(b, 0x18)()
	require.ErrorContains(t, err, "jc42")
}

// Linux kernel documentation, i2c/fault-codes: ENXIO and EREMOTEIO for a missing acknowledge,
// ETIMEDOUT for a clock held too long, EAGAIN for lost arbitration, EBUSY for a bus that is not free,
// EIO for anything.
func TestKindsOfErrno(t *testing.T) {
	for errno, kind := range map[syscall.Errno]sensors.Fault{
		syscall.ENXIO: sensors.NoResponse, eREMOTEIO: sensors.NoResponse, syscall.ENODEV: sensors.NoResponse,
		syscall.ETIMEDOUT: sensors.Timeout,
		syscall.EAGAIN:    sensors.BusError, syscall.EBUSY: sensors.BusError, syscall.EIO: sensors.BusError,
	} {
		require.Equal(t, kind, sensors.FaultOf(faulty(errno, "test")), errno)
	}
	require.NoError(t, faulty(nil, "test"))
}
