// Package longhand writes a whole record out as text, and reads it in again to the last bit.
//
// The longhand of a record is UTF-8 text, one JSON object a line, each with exactly one member that says what the line
// holds. It may be compressed with gzip. In order:
//
//	{"pourward":{"version":1,"written":"2026-01-15T09:00:00Z"}}
//	{"probe":{"name":"bench-air"}}
//	{"boot":{"id":"3f0c...","zero":"2026-01-14T06:00:00Z","first":"2026-01-14T06:00:41.2Z","trusted":true}}
//	{"shift":{"boot":"3f0c...","from":"2026-01-01T00:00:09Z","by_ms":1144800000}}
//	{"mark":{"id":2,"kind":"coat on","mold":"frieze","at":"2026-01-14T11:02:00Z","entered":"2026-01-14T11:20:13Z","material":"lacquer"}}
//	{"reading":{"probe":"bench-air","at":"2026-01-14T11:02:10Z","temp_c":9.412,"humidity":0.7134}}
//	{"end":{"readings":1,"marks":1,"sha256":"..."}}
//
// Instants are RFC 3339 in UTC, to the millisecond. Temperatures are in °C in steps of
// [sensors.TempStep], humidity is a ratio 0..1 in steps of [sensors.HumidityStep]. Members that are empty
// or zero are left out of marks. The numbers of marks rise; a mark that corrects another comes after it.
// Readings are in order of time.
//
// A value that passed every test is a number alone. One that did not says so:
//
//	{"reading":{"probe":"bench-air","at":"...","temp_c":31.5,"temp_quality":"suspect","temp_fault":"jumped"}}
//
// and one that is not there is left out, with its quality and fault if they are anything but "missing" and
// "none". Qualities and faults are named as [sensors.Quality] and [sensors.Fault] name themselves.
//
// The end line carries the SHA-256 of every byte before it, in hexadecimal, so that a file that was cut
// short or changed is known for what it is. A member that this version does not know is refused, and not
// left out: nothing is lost without a word.
package longhand
