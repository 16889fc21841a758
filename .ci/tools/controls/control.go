package main

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"golang.org/x/tools/txtar"
)

// A control is a text file: a sentence that says what is broken, then by name
//
//	class:    the class of faults whose tests must find it out
//	package:  where these tests are
//	run:      which they are, as go test -run has it
//	flags:    more arguments for go test, if any; -rapid.nofailfile where rapid draws, which would keep a file else
//	fails:    what the failing test's output must match, so that it fails for this reason and no other
//
// and then lines of a source file, after "-- path of the file --", and what they become, after "-- instead --"; once
// or several times. The lines must be in the file exactly once.
type control struct {
	what, class, pkg, run string
	flags                 []string
	fails                 *regexp.Regexp
	edits                 []edit
	took                  time.Duration // of the processors, when it was tried
}

type edit struct{ file, now, instead string }

var (
	errStale   = errors.New("stale: the source is no longer as it says; write it anew")
	errNoBuild = errors.New("what it makes of the source does not build, so it proves nothing")
	errPassed  = errors.New("not caught: the tests pass although the source is broken; strengthen the tests")
	errOther   = errors.New("the tests fail for another reason than the one it names")
)

func read(file string) (*control, error) {
	archive, err := txtar.ParseFile(file)
	if err != nil {
		return nil, err
	}
	c := &control{}
	about, fields, _ := strings.Cut(string(archive.Comment), "\n\n")
	c.what = strings.Join(strings.Fields(about), " ")
	for line := range strings.Lines(fields) {
		name, value, _ := strings.Cut(line, ":")
		value = strings.TrimSpace(value)
		switch name {
		case "class":
			c.class = value
		case "package":
			c.pkg = value
		case "run":
			c.run = value
		case "flags":
			c.flags = strings.Fields(value)
		case "fails":
			if c.fails, err = regexp.Compile(value); err != nil {
				return nil, err
			}
		default:
			return nil, fmt.Errorf("line %q: unknown; there are class, package, run, flags and fails", strings.TrimSpace(line))
		}
	}
	if c.what == "" || c.class == "" || c.pkg == "" || c.run == "" || c.fails == nil || c.fails.MatchString("") {
		return nil, errors.New("it needs a sentence, then class, package, run and fails, which must ask for something")
	}
	c.edits, err = edits(archive.Files)
	return c, err
}

func edits(files []txtar.File) (out []edit, err error) {
	for len(files) >= 2 && files[1].Name == "instead" {
		out = append(out, edit{file: files[0].Name, now: string(files[0].Data), instead: string(files[1].Data)})
		files = files[2:]
	}
	if len(files) > 0 || len(out) == 0 {
		return nil, errors.New(`it needs lines after "-- path of a file --" and after "-- instead --", in turns`)
	}
	return out, nil
}

// try breaks the source as the control says and runs its tests. It returns nil if they found it out.
func (c *control) try(root string) error {
	scratch, err := os.MkdirTemp("", "control")
	if err != nil {
		return err
	}
	defer os.RemoveAll(scratch)
	overlay, err := c.overlay(root, scratch)
	if err != nil {
		return err
	}
	args := []string{"test", "-overlay", overlay, "-vet=off", "-ldflags=-s -w", "-count=1", "-timeout=3m", "-run", c.run, c.pkg}
	cmd := exec.Command("go", append(args, c.flags...)...)
	cmd.Dir = root
	out, err := cmd.CombinedOutput()
	c.took = cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	var ended *exec.ExitError
	switch {
	case err == nil:
		return fmt.Errorf("%w\n%s", errPassed, told(out))
	case !errors.As(err, &ended):
		return err
	case bytes.Contains(out, []byte("[build failed]")) || bytes.Contains(out, []byte("[setup failed]")):
		return fmt.Errorf("%w\n%s", errNoBuild, told(out))
	case !c.fails.Match(out):
		return fmt.Errorf("%w, %q\n%s", errOther, c.fails, told(out))
	}
	return nil
}

// overlay writes the broken files to a folder, and what the go command wants to know of them. It returns the name
// of the latter; see go help build, -overlay.
func (c *control) overlay(root, scratch string) (string, error) {
	broken := map[string]string{}
	for _, e := range c.edits {
		path := filepath.Join(root, filepath.FromSlash(e.file))
		text, begun := broken[path]
		if !begun {
			b, err := os.ReadFile(path)
			if err != nil {
				return "", fmt.Errorf("%w (%w)", errStale, err)
			}
			text = string(b)
		}
		if n := strings.Count(text, e.now); n != 1 {
			return "", fmt.Errorf("%w (%s has its lines %d times)", errStale, e.file, n)
		}
		broken[path] = strings.Replace(text, e.now, e.instead, 1)
	}
	replace := map[string]string{}
	for path, text := range broken {
		to := filepath.Join(scratch, fmt.Sprint(len(replace))+".go")
		if err := os.WriteFile(to, []byte(text), 0o600); err != nil {
			return "", err
		}
		replace[path] = to
	}
	b, err := json.Marshal(map[string]any{"Replace": replace})
	if err != nil {
		return "", err
	}
	name := filepath.Join(scratch, "overlay.json")
	return name, os.WriteFile(name, b, 0o600)
}

// told is what a command wrote, but for the middle of it where that is long.
func told(out []byte) string {
	const begin, end = 15, 25 // lines
	lines := strings.SplitAfter(strings.TrimSpace(string(out)), "\n")
	if len(lines) > begin+end {
		lines = append(append(lines[:begin:begin], "...\n"), lines[len(lines)-end:]...)
	}
	return cmp.Or(strings.Join(lines, ""), "(it wrote nothing)")
}
