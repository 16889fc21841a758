package network

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// program returns where an installed program is.
func program(t testing.TB, name, debian string) string {
	t.Helper()
	for _, folder := range append(filepath.SplitList(os.Getenv("PATH")), "/usr/sbin", "/usr/bin") {
		if path := filepath.Join(folder, name); exec.Command(path).Path == path && isFile(path) {
			return path
		}
	}
	require.FailNow(t, fmt.Sprintf("%s is not installed, and these tests need the real one: apt-get install %s", name, debian))
	return ""
}

func isFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular()
}

// freePort returns a port of the loopback interface that nobody uses.
func freePort(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer l.Close()
	_, port, err := net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	return port
}

// process is a program that a test started.
type process struct {
	cmd    *exec.Cmd
	output book
	ended  chan struct{}
}

// start runs a program until the test ends, and waits until it listens at an address.
func start(t testing.TB, address, path string, args ...string) *process {
	t.Helper()
	p := &process{cmd: exec.Command(path, args...), ended: make(chan struct{})}
	p.cmd.Stdout, p.cmd.Stderr = &p.output, &p.output
	p.cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL} // not left behind if the tests are killed
	require.NoError(t, p.cmd.Start())
	go func() {
		_ = p.cmd.Wait()
		close(p.ended)
	}()
	t.Cleanup(p.kill)
	require.Eventually(t, func() bool {
		select {
		case <-p.ended:
			require.FailNow(t, fmt.Sprintf("%s ended: %s", filepath.Base(path), p.output.String()))
		default:
		}
		c, err := net.Dial("tcp", address)
		if err != nil {
			return false
		}
		return c.Close() == nil
	}, 20*time.Second, 20*time.Millisecond, "%s listens at %s", path, address)
	return p
}

// kill ends a program at once, as a power cut would.
func (p *process) kill() {
	_ = p.cmd.Process.Kill()
	<-p.ended
}

// broker is a real MQTT broker.
type broker struct {
	t       testing.TB
	port    string
	config  string
	process *process
}

// startBroker starts mosquitto on the loopback interface, with more lines of configuration.
func startBroker(t testing.TB, lines ...string) *broker {
	t.Helper()
	port := freePort(t)
	text := []string{"listener " + port + " 127.0.0.1", "persistence false"}
	if os.Geteuid() == 0 {
		text = append(text, "user root") // else it could not read the test's files
	}
	if len(lines) == 0 {
		lines = []string{"allow_anonymous true"}
	}
	config := filepath.Join(t.TempDir(), "mosquitto.conf")
	require.NoError(t, os.WriteFile(config, []byte(strings.Join(append(text, lines...), "\n")+"\n"), 0o600))
	b := &broker{t: t, port: port, config: config}
	b.start()
	return b
}

func (b *broker) start() {
	b.process = start(b.t, "127.0.0.1:"+b.port, program(b.t, "mosquitto", "mosquitto"), "-c", b.config)
}

func (b *broker) url() string { return "tcp://127.0.0.1:" + b.port }
