// Package page serves the shop's web page: what the outlook tells, in words and drawings a maker can
// read on a phone at the bench, and the forms by which marks come in.
//
// Pages are complete without scripts. The package computes no physics and keeps no record: it words a
// [pourward/model.Snapshot] for one visitor, in the shop's local time and the unit the visitor chose.
package page
