package checkup

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"io/fs"
	"log"
	"math/big"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"pourward/cmd/pourward/internal/config"
	"pourward/model"
	"pourward/model/journal"
	"pourward/sensors/network"
)

// A bus that belongs to a group says which one to join. Tests may run as root, to whom nothing is forbidden.
func TestABusThatMayNotBeOpenedNamesTheGroup(t *testing.T) {
	bus := filepath.Join(t.TempDir(), "i2c-1")
	require.NoError(t, os.WriteFile(bus, nil, 0o600))
	require.NoError(t, os.Chmod(bus, 0o660)) // whatever the umask
	if os.Geteuid() == 0 {
		require.NoError(t, os.Chown(bus, 0, 1)) // group daemon: 1 by Debian's base-passwd
	}
	f := busFinding(bus, fmt.Errorf("open: %w", fs.ErrPermission))
	require.Equal(t, Broken, f.Verdict)
	require.Regexp(t, `^sudo usermod -aG \S+ \S+, then log in anew`, f.Do)
	require.NoError(t, os.Chmod(bus, 0o600))
	require.Contains(t, busFinding(bus, fs.ErrPermission).Do, "sudo chgrp i2c")
}

func TestDisk(t *testing.T) {
	dir := t.TempDir()
	for _, f := range Disk(dir) {
		require.NotEqual(t, Broken, f.Verdict, f.Found)
	}
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, left, "the trial is deleted")

	require.Equal(t, Broken, space(dir, 15<<20, false).Verdict)
	require.Equal(t, Look, space(dir, 299<<20, false).Verdict)
	require.Equal(t, OK, space(dir, 300<<20, false).Verdict)
	require.Equal(t, Broken, space(dir, 1<<40, true).Verdict)
	require.Contains(t, unfit(unix.TMPFS_MAGIC), "power cut")
	require.Contains(t, unfit(unix.NFS_SUPER_MAGIC), "another computer")
	require.Empty(t, unfit(unix.EXT4_SUPER_MAGIC))
	require.Equal(t, Broken, tryDisk(filepath.Join(dir, "absent")).Verdict)
}

// /proc/sys is a file system that takes no files, whoever asks.
func TestDiskThatCannotBeWritten(t *testing.T) {
	require.Equal(t, Broken, tryDisk("/proc/sys").Verdict)
}

func TestRecord(t *testing.T) {
	file := filepath.Join(t.TempDir(), "shop.journal")
	require.Contains(t, Record(t.Context(), file, time.UTC).Found, "not there yet")
	j, err := journal.Open(t.Context(), file, journal.Options{})
	require.NoError(t, err)
	_, err = j.AppendMark(t.Context(), model.Mark{Kind: model.Begun, Mold: "frieze", Place: "bench", At: time.Unix(1768392000, 0), Entered: time.Unix(1768392000, 0)})
	require.NoError(t, err)
	f := Record(t.Context(), file, time.UTC)
	require.Equal(t, OK, f.Verdict, "also while a daemon keeps it: %s", f.Found)
	require.Contains(t, f.Found, "is whole: no readings, marks: 1")
	require.NoError(t, j.Close(t.Context()))

	// SQLite's file format (fileformat.html 1.3): the user version is at offset 60, big-endian.
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	version := func(v byte) string {
		other := bytes.Clone(text)
		copy(other[60:], []byte{0, 0, 0, v})
		name := filepath.Join(t.TempDir(), "other.journal")
		require.NoError(t, os.WriteFile(name, other, 0o600))
		return name
	}
	require.Equal(t, Look, Record(t.Context(), version(1), time.UTC).Verdict, "older")
	f = Record(t.Context(), version(255), time.UTC)
	require.Equal(t, Broken, f.Verdict)
	require.Contains(t, f.Found, "newer pourward")

	require.NoError(t, os.Truncate(file, int64(len(text)/2)))
	f = Record(t.Context(), file, time.UTC)
	require.Equal(t, Broken, f.Verdict, f.Found)
	require.Contains(t, f.Do, "pourward mend")
}

func TestPage(t *testing.T) {
	other := httptest.NewServer(http.NotFoundHandler())
	defer other.Close()
	f := Page(t.Context(), strings.TrimPrefix(other.URL, "http://"))
	require.Equal(t, Look, f.Verdict, "somebody else's")
	daemon := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		fmt.Fprint(w, "# TYPE pourward_build_info gauge\npourward_build_info 1\n")
	}))
	defer daemon.Close()
	require.Equal(t, OK, Page(t.Context(), strings.TrimPrefix(daemon.URL, "http://")).Verdict, "a daemon's own")
}

// A mail server greets with 220 (RFC 5321, 4.2); what does not is none. TLS is believed with the right authority only.
func TestReach(t *testing.T) {
	greeter := func(greeting string) target {
		l, err := net.Listen("tcp", "127.0.0.1:0")
		require.NoError(t, err)
		t.Cleanup(func() { l.Close() })
		go func() {
			for {
				c, err := l.Accept()
				if err != nil {
					return
				}
				_, _ = c.Write([]byte(greeting))
				_ = c.Close()
			}
		}()
		return target{about: "alerts", name: "mail server", address: l.Addr().String(), greets: true}
	}
	verdict := func(x target) Finding { return x.finding(x.connect(t.Context())) }
	require.Equal(t, OK, verdict(greeter("220 annex ESMTP\r\n")).Verdict)
	require.Contains(t, verdict(greeter("554 no\r\n")).Found, "greet")

	s := httptest.NewUnstartedServer(http.NotFoundHandler())
	s.Config.ErrorLog = log.New(io.Discard, "", 0)
	s.StartTLS()
	defer s.Close()
	f := verdict(at("alerts", "webhook phone", s.URL, network.TLSFiles{}))
	require.Equal(t, Broken, f.Verdict)
	require.Contains(t, f.Do, "ca")
	f = (target{about: "alerts", name: "x", address: "[::1]:1"}).finding(&net.OpError{Err: os.NewSyscallError("connect", syscall.ECONNREFUSED)})
	require.Contains(t, f.Found, "nothing listens there")
	require.Equal(t, "192.168.1.5:8883", at("probes", "b", "tls://192.168.1.5", network.TLSFiles{}).address)
	require.Empty(t, Reach(t.Context(), &config.Config{}))
}

func TestCertificate(t *testing.T) {
	now := time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	until := func(end time.Time) Finding {
		x := &x509.Certificate{SerialNumber: big.NewInt(1), NotBefore: now.AddDate(-1, 0, 0), NotAfter: end}
		der, err := x509.CreateCertificate(rand.Reader, x, x, &key.PublicKey, key)
		require.NoError(t, err)
		return certificate(&tls.Config{GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) {
			return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, nil
		}}, now)
	}
	require.Equal(t, OK, until(now.Add(15*24*time.Hour)).Verdict)
	require.Equal(t, Look, until(now.Add(13*24*time.Hour)).Verdict)
	require.Equal(t, Broken, until(now.Add(-time.Hour)).Verdict)
}

func TestTell(t *testing.T) {
	var out strings.Builder
	bad, doubtful, err := Tell(&out, []Finding{ok("bus", "%s can be used", "/dev/i2c-1"), look("clock", "set it", "nobody vouches"), broken("disk", "free some", "0 MB free")})
	require.NoError(t, err)
	require.Equal(t, []int{1, 1}, []int{bad, doubtful})
	require.Equal(t, `ok      bus      /dev/i2c-1 can be used
look    clock    nobody vouches
                 -> set it
broken  disk     0 MB free
                 -> free some
`, out.String())
	require.Equal(t, OK, Clock(true).Verdict)
	require.Equal(t, Look, Clock(false).Verdict)
	require.Empty(t, User(1000, "pourward"))
	require.Equal(t, Look, User(0, "pourward")[0].Verdict)
}
