//go:build race

package forecast

// raceDetector says that the tests run several times slower.
const raceDetector = true
