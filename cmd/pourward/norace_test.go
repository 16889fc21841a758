//go:build !race

package main

// raced: see the file for the race detector.
const raced = false
