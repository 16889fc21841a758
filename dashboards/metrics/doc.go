// Package metrics shows the newest snapshot of the shop to Prometheus.
//
// A scrape measures nothing and judges nothing: it reads the snapshot that the shop loop published last, so
// a slow or frequent Prometheus never disturbs the shop. The little that is reckoned from it, such as the
// coldest hour ahead, is reckoned by the package of the alerts, as their conditions do. What a snapshot tells is written
// out when it is first asked for, and kept until there is another; the shop clock, the Go runtime and the process are
// told as they are at the instant of the scrape. All units are base units of the
// Prometheus conventions, with degrees Celsius; a page or a dashboard may show another unit, a metric
// never changes its name or unit for that.
//
// What is known is exported, what is not known is absent: there is no 0 °C for a dead probe, and before
// the first outlook there is nothing at all. Series that tell of trouble are there from the beginning.
// Only open molds are exported; when a mold is demolded its series vanish. A patch is exported while it waits to be
// read, and after that until a newer one is set for the same trial or the shop tells of it no more.
//
// # Cardinality
//
// With P places, S probes, M molds poured, U open molds not poured yet, N steps of open molds, R reasons
// that may speak against a pour ([model.ReasonCodes]), T trials, each a face, prep and material of which patches
// are told, and Q patches that wait to be read or are the newest of a trial, there are at most
//
//	20 + 26 P + 18 S + 16 M + (9 + R) U + 20 N + 6 T + 9 Q
//
// series, 6 for each target that is told of alerts, and one for each of the 14 kinds of refusal where readings
// come over a network: about 550 for a shop of 4 places, 6 probes and 3 open molds of 5 steps each. Five trials with
// a patch each add 75. P and S are
// set in the daemon's file; M, U and N end with the work on the pattern; T falls when
// what passed is a year old, and Q is at most T and the patches that wait. No label holds an instant, a reading or
// an error text.
package metrics
