//go:build race

package journal

// thinned is by how much the samples of power cuts and faults are made smaller: the race detector makes
// SQLite slow, and has nothing to find in one more cut. Without it they are run whole.
const thinned = 20
