package main

import (
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/require"
)

// mayImport is the plan of the house: which packages of the project each of its rooms may import,
// folders below an entry included where it ends in a slash. What is not listed may import anything.
func mayImport() map[string][]string {
	return map[string][]string{
		"sensors":            {},
		"sensors/chips":      {"sensors", "sensors/chips/sht"},
		"sensors/chips/sht":  {},
		"sensors/kernel":     {"sensors"},
		"sensors/network":    {"sensors"},
		"sensors/recorded":   {"sensors"},
		"sensors/simulated":  {"sensors"},
		"model":              {"sensors", "model/air", "model/cure", "model/cure/fit", "model/doubt", "model/dry", "model/heat", "model/forecast", "model/material", "model/mix", "model/plan"},
		"model/air":          {},
		"model/cure":         {},
		"model/cure/fit":     {"model/cure"},
		"model/doubt":        {},
		"model/dry":          {"model/air"},
		"model/heat":         {},
		"model/forecast":     {},
		"model/material":     {},
		"model/mix":          {},
		"model/plan":         {"model/air", "model/cure", "model/dry", "model/forecast", "model/material"},
		"model/journal":      {"sensors", "model"},
		"model/longhand":     {"sensors", "model"},
		"model/report":       {"sensors", "model", "model/loop", "model/material"},
		"model/loop":         {"sensors", "model", "model/plan"},
		"alerts":             {"sensors", "model", "model/material"},
		"alerts/deliver":     {"sensors", "alerts"},
		"dashboards/metrics": {"sensors", "model", "alerts"},
		"dashboards/page":    {"sensors", "model", "model/material", "model/mix", "model/plan", "model/report", "alerts"},
		"dashboards/grafana": {"model", "alerts", "dashboards/metrics"},

		"model/journal/faulty": {},
	}
}

// outside is what rooms may import from outside the standard library; rooms that are not listed may
// import what they need.
func outside() map[string][]string {
	return map[string][]string{
		"sensors":            {"periph.io/x/", "golang.org/x/sys/"},
		"sensors/chips":      {"periph.io/x/", "golang.org/x/sys/"},
		"sensors/chips/sht":  {"periph.io/x/"},
		"sensors/kernel":     {"periph.io/x/"},
		"sensors/recorded":   {},
		"sensors/simulated":  {"periph.io/x/", "golang.org/x/sys/"},
		"model":              {"gonum.org/"},
		"model/air":          {"gonum.org/"},
		"model/cure":         {"gonum.org/"},
		"model/cure/fit":     {"gonum.org/"},
		"model/doubt":        {"gonum.org/"},
		"model/mix":          {},
		"model/plan":         {},
		"model/dry":          {"gonum.org/"},
		"model/heat":         {"gonum.org/"},
		"model/forecast":     {"gonum.org/"},
		"model/material":     {},
		"model/longhand":     {},
		"model/report":       {},
		"model/loop":         {},
		"model/journal":      {"modernc.org/sqlite", "golang.org/x/sys/"},
		"alerts":             {},
		"alerts/deliver":     {"modernc.org/sqlite", "github.com/wneessen/go-mail", "github.com/cenkalti/backoff/", "github.com/standard-webhooks/"},
		"dashboards/metrics": {"github.com/prometheus/", "github.com/klauspost/compress/"},
		"dashboards/page":    {"github.com/klauspost/compress/", "rsc.io/qr"},

		"model/journal/faulty": {"modernc.org/sqlite", "modernc.org/libc"},
	}
}

type listed struct {
	ImportPath string
	Imports    []string
}

func packages(t *testing.T) []listed {
	t.Helper()
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports", "pourward/...")
	cmd.Dir = filepath.Join("..", "..")
	out, err := cmd.Output()
	require.NoError(t, err)
	var all []listed
	for dec := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		err := dec.Decode(&p)
		if errors.Is(err, io.EOF) {
			return all
		}
		require.NoError(t, err)
		all = append(all, p)
	}
}

func TestImportsRunOneWay(t *testing.T) {
	for _, p := range packages(t) {
		room := strings.TrimPrefix(p.ImportPath, "pourward/")
		own, planned := mayImport()[room]
		if !planned {
			require.True(t, strings.HasPrefix(room, "cmd/"), "package %s is not in the plan of the house: give it a place there", room)
			continue
		}
		allowed, bounded := outside()[room]
		for _, i := range p.Imports {
			if inside, ok := strings.CutPrefix(i, "pourward/"); ok {
				require.Contains(t, own, inside, "%s must not import %s", room, inside)
			} else if bounded && strings.Contains(strings.Split(i, "/")[0], ".") {
				require.True(t, slices.ContainsFunc(allowed, func(a string) bool { return strings.HasPrefix(i, a) }), "%s must not import %s", room, i)
			}
		}
	}
}

func TestTopLevelHoldsOnlyTheHouse(t *testing.T) {
	entries, err := os.ReadDir(filepath.Join("..", ".."))
	require.NoError(t, err)
	house := []string{"cmd", "sensors", "model", "alerts", "dashboards", "testdata", "README.md", "DEVELOPERS.md", "go.mod", "go.sum", "LICENSE"}
	for _, e := range entries {
		require.True(t, strings.HasPrefix(e.Name(), ".") || slices.Contains(house, e.Name()), "%s has no place at the top level", e.Name())
	}
}

// The controls, which break the program to try its tests, name lines of the source. Those of them that are gone are
// told here, long before all controls are tried.
func TestHouseHasNoStaleControl(t *testing.T) {
	top := filepath.Join("..", "..")
	controls, err := filepath.Glob(filepath.Join(top, "testdata", "controls", "*.txt"))
	require.NoError(t, err)
	require.NotEmpty(t, controls)
	for _, name := range controls {
		c, err := txtar.ParseFile(name)
		require.NoError(t, err)
		for _, f := range c.Files {
			if f.Name == "instead" {
				continue
			}
			source, err := os.ReadFile(filepath.Join(top, f.Name))
			require.NoError(t, err, "%s names it; change that control with the source", name)
			require.Equal(t, 1, strings.Count(string(source), string(f.Data)), "%s has these lines once, %s says; change that control with the source:\n%s", f.Name, name, f.Data)
		}
	}
}
