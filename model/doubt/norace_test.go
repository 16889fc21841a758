//go:build !race

package doubt_test

const raced = false
