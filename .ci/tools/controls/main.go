// Command controls breaks the program on purpose, in one place at a time, and makes sure that the tests find it
// out: a test that passes whatever is broken proves nothing.
//
//	go run -C .ci/tools ./controls           # all of testdata/controls
//	go run -C .ci/tools ./controls NAME ...  # some of them
//
// The source is not touched: the go command is given the broken file in its place. See [control] for the form of a
// control.
package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"time"
)

func main() {
	if err := run(filepath.Join("..", ".."), os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// run tries the controls of a module that are named, or all.
func run(module string, names []string) error {
	root, err := filepath.Abs(module)
	if err != nil {
		return err
	}
	files, err := filepath.Glob(filepath.Join(root, "testdata", "controls", "*.txt"))
	if err != nil {
		return err
	}
	if len(names) > 0 {
		files = nil
		for _, name := range names {
			files = append(files, filepath.Join(root, "testdata", "controls", name+".txt"))
		}
	}
	if len(files) == 0 {
		return errors.New("there are no controls in testdata/controls")
	}
	return tryAll(root, files)
}

// tryAll tries controls, as many at a time as there are processors, and says of each how it went.
func tryAll(root string, files []string) error {
	var (
		group   sync.WaitGroup
		telling sync.Mutex
		failed  []error
		free    = make(chan struct{}, runtime.GOMAXPROCS(0))
	)
	for _, file := range files {
		free <- struct{}{}
		group.Go(func() {
			began := time.Now()
			c, err := read(file)
			if err == nil {
				err = c.try(root)
			}
			<-free
			telling.Lock()
			defer telling.Unlock()
			name := strings.TrimSuffix(filepath.Base(file), ".txt")
			if err != nil {
				failed = append(failed, fmt.Errorf("control %s: %w", name, err))
				fmt.Printf("FAILED  %s\n", name)
				return
			}
			fmt.Printf("caught  %5.1f s, %4.1f s of processor  %s (%s): %s\n", time.Since(began).Seconds(), c.took.Seconds(), name, c.class, c.what)
		})
	}
	group.Wait()
	return errors.Join(failed...)
}
