package chips

import (
	"os"
	"path/filepath"
	"testing"
	"unsafe"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// The sizes and offsets are those a C compiler gives for struct i2c_msg and struct i2c_rdwr_ioctl_data
// of linux/i2c.h and linux/i2c-dev.h.
func TestLayoutOfTheKernelStructs(t *testing.T) {
	word := unsafe.Sizeof(uintptr(0))
	require.Equal(t, 8+word, unsafe.Sizeof(message{}))
	require.Equal(t, []uintptr{0, 2, 4, 8}, []uintptr{unsafe.Offsetof(message{}.addr), unsafe.Offsetof(message{}.flags),
		unsafe.Offsetof(message{}.length), unsafe.Offsetof(message{}.buf)})
	require.Equal(t, 2*word, unsafe.Sizeof(transfer{}))
	require.Equal(t, word, unsafe.Offsetof(transfer{}.count))
}

func TestAFileThatIsNoBus(t *testing.T) {
	path := filepath.Join(t.TempDir(), "i2c-1")
	require.NoError(t, os.WriteFile(path, nil, 0o600))
	_, err := OpenBoard(path, "")
	require.ErrorIs(t, err, unix.ENOTTY)
	a := deviceFile{nil}
	require.NoError(t, a.transfer(0x76, nil, nil), "nothing to do")
}
