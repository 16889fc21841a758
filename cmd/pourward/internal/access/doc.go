// Package access decides who may look at the shop and who may mark. It knows users, sessions, links to one
// mold and limits on how often anyone may ask; what is shown is the page's own matter.
//
// Users and TLS are told in a web configuration file of the form that Prometheus and its exporters read, so
// that one file serves both and Prometheus can scrape with a name and a password. The file is read, checked
// and turned into TLS by Prometheus' own library. Its request handler is not used: that asks every request
// for a name and a password, and would lock out the log-in page, links, and probes that show a token.
//
// Sessions are kept in memory, by the hash of their secret. They end with the daemon: nothing on disk can
// then be stolen or forged, and after a power cut a phone logs in once more.
package access
