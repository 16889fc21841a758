// Package grafana holds the dashboards for a Grafana that reads the Prometheus of a shop, or of many, as
// typed code. What it makes is committed beside it as JSON, to be loaded without Go; a test fails when code
// and file differ.
//
// A dashboard asks for what the daemon exports and what the rules for many shops record, and reckons
// nothing else. Instants are compared with the shop clock that the daemon exports, so they also hold for the
// demo, whose time runs fast.
package grafana
