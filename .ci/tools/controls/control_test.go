package main

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// sums is a module of one function and its test.
func sums() map[string]string {
	return map[string]string{
		"go.mod":      "module sums\n\ngo 1.26\n",
		"sum.go":      "package sums\n\nfunc sum(a, b int) int {\n\treturn a + b\n}\n",
		"sum_test.go": "package sums\n\nimport \"testing\"\n\nfunc TestSum(t *testing.T) {\n\tif sum(2, 3) != 5 {\n\t\tt.Fatal(\"two and three are five\")\n\t}\n}\n",
	}
}

const fields = "It does not add.\n\nclass: sums\npackage: .\nrun: TestSum\nfails: are five\n"

// What breaks nothing must be told apart from what is found out, and so must what breaks too much.
func TestControlsAreToldApart(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		want error
	}{
		"harmful":            {fields + "-- sum.go --\n\treturn a + b\n-- instead --\n\treturn a - b\n", nil},
		"harmless":           {fields + "-- sum.go --\n\treturn a + b\n-- instead --\n\treturn b + a\n", errPassed},
		"not there":          {fields + "-- sum.go --\n\treturn a * b\n-- instead --\n\treturn a - b\n", errStale},
		"file not there":     {fields + "-- add.go --\n\treturn a + b\n-- instead --\n\treturn a - b\n", errStale},
		"more than once":     {fields + "-- sum.go --\n\n-- instead --\n\n\n", errStale},
		"does not build":     {fields + "-- sum.go --\n\treturn a + b\n-- instead --\n\treturn a +\n", errNoBuild},
		"falls over instead": {fields + "-- sum.go --\n\treturn a + b\n-- instead --\n\tpanic(a)\n", errOther},
		"no such test":       {strings.Replace(fields, "TestSum", "TestNone", 1) + "-- sum.go --\n\treturn a + b\n-- instead --\n\treturn a - b\n", errPassed},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			root := t.TempDir()
			write(t, root, sums())
			write(t, root, map[string]string{"testdata/controls/sum.txt": c.text})
			if err := run(root, nil); !errors.Is(err, c.want) {
				t.Fatalf("want %v, got %v", c.want, err)
			}
			if b, err := os.ReadFile(filepath.Join(root, "sum.go")); err != nil || string(b) != sums()["sum.go"] {
				t.Fatalf("the source was touched: %v %s", err, b)
			}
		})
	}
}

func TestControlsThatAreNone(t *testing.T) {
	for name, text := range map[string]string{
		"empty":            "",
		"no sentence":      "\n\n" + fields,
		"nothing asked":    strings.Replace(fields, "are five", "", 1) + "-- sum.go --\na\n-- instead --\nb\n",
		"odd field":        fields + "when: never\n-- sum.go --\na\n-- instead --\nb\n",
		"bad expression":   strings.Replace(fields, "are five", "(", 1) + "-- sum.go --\na\n-- instead --\nb\n",
		"nothing broken":   fields,
		"nothing in place": fields + "-- sum.go --\na\n",
	} {
		file := filepath.Join(t.TempDir(), "control.txt")
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if c, err := read(file); err == nil {
			t.Errorf("%s: taken as %+v", name, c)
		}
	}
	if err := run(t.TempDir(), nil); err == nil {
		t.Error("a module without controls passes")
	}
	if err := run(t.TempDir(), []string{"none"}); err == nil {
		t.Error("a control that is not there passes")
	}
}

func write(t *testing.T, root string, files map[string]string) {
	t.Helper()
	for name, text := range files {
		path := filepath.Join(root, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}
