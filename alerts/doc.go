// Package alerts says when someone must be called to the bench, once, for the daemon and for
// Prometheus alike.
//
// [Table] is the only place where an alert is described. Each row carries a condition on the published
// snapshot, which an [Evaluator] in the daemon runs for the page and the log, and an expression with the
// same meaning over the daemon's metrics, which [WriteRules] turns into a Prometheus rule file. Tests
// hold the two together: both are run over the same invented shop days and must agree minute by minute.
//
// Four rules shape every row:
//   - A vanished series is never good news. Alerts of the "ready" kind end because the maker records the
//     next mark. While a scrape brings no outlook, whatever was firing keeps firing.
//   - Instants are compared with the shop clock of the snapshot, never with Prometheus's own time: the
//     demo's clock runs fast, and a board without a battery may wake up in the wrong year.
//   - What a condition remembers of earlier snapshots is what a Prometheus range holds: a span that ends
//     now. The daemon's memory begins anew when it starts.
//   - A value that is not known is NaN, and the text then leaves it out.
//
// The rules need Prometheus 2.42 or later.
package alerts
