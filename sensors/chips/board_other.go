//go:build !linux

package chips

import (
	"errors"
	"fmt"
	"runtime"
)

func openAdapter(string) (adapter, error) {
	return nil, fmt.Errorf("the buses of a board cannot be used on %s: %w", runtime.GOOS, errors.ErrUnsupported)
}
