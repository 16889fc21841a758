// Package recorded delivers readings from a file of comma-separated values, at any speed.
//
// Nothing about the file is guessed: which columns there are, how the time is written, in which zone
// and in which units are all told by the person who knows the file.
package recorded
