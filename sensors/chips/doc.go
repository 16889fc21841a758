// Package chips reads probes on the board's own buses, through the drivers of periph.io.
//
// Those drivers trust the wires: several take a dead line for a temperature, one waits for ever for a
// chip that is gone, some go on for ever with a chip that has restarted. A guard therefore stands between
// every driver and its bus. It ends a measurement that takes too long or too many transactions, looks at
// the raw bytes before the driver does, and keeps the first error as it was, since most drivers pass on
// its text only. Nothing here measures by itself: a probe is asked by Sense, and opened afresh after a
// fault. What a driver does by itself is kept in the tests, with the version of periph.io it is true of.
//
// For I²C there are [BME280], [SHT3x], [SHT4x], [HDC302x], [SCD4x], [AHT20], [AM2320], [MCP9808] and
// [TMP102]; for 1-wire [Wire.DS18B20], on a [Bridge] or another master. [Look] finds what is on a bus.
// Make an opener once for each probe: it knows its chip again and refuses another in its place.
package chips
