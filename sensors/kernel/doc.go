// Package kernel reads probes that a Linux driver owns, through the files it offers: the 1-wire
// thermometers of w1_therm, and the chips that appear under hwmon and iio.
//
// A read of such a file may block for as long as the measurement takes and cannot be ended from here;
// [sensors.Poller] watches over it.
package kernel
