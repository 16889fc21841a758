// Package forecast projects the air temperature of one place for the next 72 hours, as an ensemble whose
// spread is earned: it is built from the errors the same forecaster made before, and its bands are corrected
// online by shadow cures that are scored when they end.
//
// A [Forecaster] is fed with good readings in order of time and answers with [Paths]. Every path is a whole
// temperature history the shop may still have; run each through the mold and the cure, and read the 10, 50
// and 90 % quantiles off the completion times. Never integrate along a quantile curve of temperature, nor
// along the mean alone: the first is too wide, the second too late (the rate of a cure is convex in temperature).
//
// The package keeps no clock and draws its random numbers from a generator seeded by the history, so the same
// readings always give the same bits.
package forecast
