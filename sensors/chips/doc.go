// Package chips reads probes on the board's own buses, through the drivers of periph.io.
//
// Those drivers trust the wires: several take a dead line for a temperature, one waits for ever for a
// chip that is gone. A guard therefore stands between every driver and its bus. It ends a measurement
// that takes too long or too many transactions, looks at the raw bytes before the driver does, and
// keeps the first error as it was, since most drivers pass on its text only.
package chips
