// Package journal is the durable record of a shop: every reading and every mark, in one SQLite file,
// read back in order and to the last bit.
//
// # What it promises
//
// A mark is safe against a power cut when [Journal.AppendMark] returns. Readings are safe when
// [Journal.Flush] returns; a crash loses at most those that waited since. Nothing is half there after
// a crash: a flush is wholly in the record or not at all. The promise ends where the disk lies about
// having written.
//
// When the disk is full or fails, marks already confirmed stay, readings wait in memory and go in when
// it works again. Only if more wait than [Options.MaxWaiting] are the oldest given up, and then they
// are counted ([Journal.Lost]), logged and named by every failing flush.
//
// # How it is kept
//
// Recent readings are rows of the table tail, appended in order of arrival, so that a flush touches a
// page or two. When the shop's hour has turned, the readings of past hours are packed into one block a
// probe and hour, and leave the tail in the same transaction. A reading that comes later than that waits
// in the tail for the next turn of the hour and is then merged into its block. The tail is mirrored in
// memory; readers see blocks and mirror together, including what is not flushed yet.
//
// Of two readings of one probe at one instant the first is kept.
//
// Each block carries a CRC-32C of its contents and its place, and each mark one of all it says. A damaged block
// is reported with its probe and hour, a damaged mark with its number and what it says now, see [DamageError];
// all others are still read.
package journal
