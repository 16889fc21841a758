package main

import (
	"bufio"
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// TestMain puts the program on the PATH, as it is built for the test: scripts, and the tests that need a
// daemon in a process of its own, run the real main.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"pourward": main})
}

// TestScripts uses the command line as a person would. UPDATE_SCRIPTS=1 rewrites the texts that are
// compared with cmp: read the difference before you keep it.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("testdata", "script"),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		UpdateScripts:       os.Getenv("UPDATE_SCRIPTS") != "",
		Setup:               shareClimates,
		Cmds:                map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "daemon": daemonOf},
	})
}

// shareClimates lets the scripts read the climates that come with the project.
func shareClimates(env *testscript.Env) error {
	dir, err := filepath.Abs(filepath.Join("..", "..", "testdata", "climate"))
	env.Setenv("CLIMATE", dir)
	return err
}

// exits runs a program and wants exactly one exit code of it: "exits 2 pourward frob".
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE program [args...]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	code := 0
	var failed *exec.ExitError
	if err := ts.Exec(args[1], args[2:]...); errors.As(err, &failed) {
		code = failed.ExitCode()
	} else {
		ts.Check(err)
	}
	if code != want {
		ts.Fatalf("%v: exit code %d, want %d", args[1:], code, want)
	}
}

// daemonOf starts a daemon, "daemon shop.yml", until the script ends; its address is then in $DAEMON.
func daemonOf(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: daemon CONFIG")
	}
	cmd := exec.Command("pourward", "serve", "-config", ts.MkAbs(args[0]))
	out, err := cmd.StdoutPipe()
	ts.Check(err)
	var errs bytes.Buffer
	cmd.Stderr = &errs
	ts.Check(cmd.Start())
	ts.Defer(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		_ = cmd.Wait()
		ts.Fatalf("the daemon does not serve: %v: %s", err, errs.String())
	}
	ts.Setenv("DAEMON", regexp.MustCompile(`http://127\.0\.0\.1:\d+`).FindString(line))
}
