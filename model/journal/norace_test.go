//go:build !race

package journal

// thinned: see the file for the race detector.
const thinned = 1
