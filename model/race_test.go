//go:build race

package model_test

import (
	"flag"
	"fmt"
	"os"
	"testing"
)

// The race detector makes random histories ten times as slow and has nothing to find in one more: it is given few,
// unless asked for more. Without it there are as many as everywhere.
func TestMain(m *testing.M) {
	if err := flag.Set("rapid.checks", "40"); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
	os.Exit(m.Run())
}
