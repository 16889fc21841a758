//go:build race

package main

// raced: the race detector is at work, which makes a shop's evening slow and has nothing to find in one more.
const raced = true
