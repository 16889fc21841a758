//go:build race

package doubt_test

// raced tells that the race detector makes everything several times slower: one truth is enough then.
const raced = true
