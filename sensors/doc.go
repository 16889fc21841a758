// Package sensors says what a reading is and keeps every source of readings honest.
//
// A probe measures at an instant; the result is a [Reading], never a bare number: each value in it
// carries its quality, so that the zero value of anything here reads as "missing" and never as 0 °C.
// A [Source] delivers readings until its context ends. Kinds of sources live in the folders below:
// chips (buses of the board), kernel (probes a Linux driver owns), recorded (files) and simulated.
package sensors
