// Package simulated stands in for a board: chips that behave like the real ones down to their
// registers and their failures, and a winter climate for them to measure.
//
// The chips follow their data sheets, so the real drivers run on them unchanged. The climate is
// invented: an unheated annex in which a workshop molds a plaster frieze, warmed by a small heater
// while people work. No measured data is in it.
package simulated
