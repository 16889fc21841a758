package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// block is a fenced block of a guide: its kind, the file it shows, if any, and its text.
type block struct{ kind, file, text string }

// blocksOf returns the fenced blocks of a guide.
func blocksOf(guide string) (out []block) {
	for _, m := range regexp.MustCompile("(?ms)^```([a-z]*) ?([^\n]*)\n(.*?)^```$").FindAllStringSubmatch(guide, -1) {
		out = append(out, block{m[1], m[2], m[3]})
	}
	return out
}

// Everything that the guides tell to type is typed here, in their order, in a folder with the files that they show.
// What begins with sudo is typed by .ci/package-test, in a Debian of its own.
func TestGuidesWorkAsWritten(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("docs", "*.md"))
	require.NoError(t, err)
	require.Len(t, files, 4)
	typed := 0
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		t.Run(filepath.Base(file), func(t *testing.T) {
			r := reader{t: t, dir: t.TempDir()}
			normals, err := os.ReadFile(filepath.Join("..", "..", "testdata", "climate", "seattle_january_normals.csv"))
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(r.dir, "january.csv"), normals, 0o644))
			for _, b := range blocksOf(string(text)) {
				r.follow(b)
			}
			typed += r.typed
		})
	}
	require.GreaterOrEqual(t, typed, 18, "the blocks were found")
}

// reader does what a guide says.
type reader struct {
	t      *testing.T
	dir    string
	daemon *daemon
	typed  int
}

func (r *reader) follow(b block) {
	switch b.kind {
	case "yaml":
		// A port of its own: several shops may run on this machine.
		text := b.text + "listen: \"127.0.0.1:0\"\n"
		require.NoError(r.t, os.WriteFile(filepath.Join(r.dir, b.file), []byte(text), 0o644))
	case "sh":
		for line := range strings.Lines(b.text) {
			if line = strings.TrimSpace(line); !strings.HasPrefix(line, "sudo ") {
				r.enter(line)
			}
		}
	default:
		require.Fail(r.t, "a block of a kind that nobody checks", b.kind)
	}
}

// enter types one line.
func (r *reader) enter(line string) {
	r.typed++
	words := strings.Fields(line)
	require.Equal(r.t, "pourward", words[0], line)
	switch words[1] {
	case "demo":
		d := serving(r.t, append(words[1:], "-listen", "127.0.0.1:0", "-dir", r.dir)...)
		require.Zero(r.t, d.signal(syscall.SIGTERM))
	case "serve":
		r.daemon = serving(r.t, "serve", "-config", filepath.Join(r.dir, words[3]))
	case "mark":
		r.shell(strings.Replace(line, "mark", "mark -to "+r.daemon.url, 1), false)
	default:
		r.shell(line, words[1] == "doctor")
	}
}

// shell types a line in a shell. This machine has none of the probes: a doctor may say so.
func (r *reader) shell(line string, mayFind bool) {
	cmd := exec.CommandContext(r.t.Context(), "bash", "-c", line)
	cmd.Dir = r.dir
	var out bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &out
	err := cmd.Run()
	if mayFind && cmd.ProcessState.ExitCode() == 1 {
		require.Contains(r.t, out.String(), fmt.Sprintf("%-8s%-9s%s", "ok", "config", "shop.yml is sound"))
		return
	}
	require.NoError(r.t, err, "%s\n%s", line, &out)
}
