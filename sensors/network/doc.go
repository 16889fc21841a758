// Package network takes readings that arrive over a network: messages of an MQTT broker ([MQTT]),
// requests of machines that push ([Push]) and answers of a Prometheus-compatible server ([Query]).
//
// # What all three keep to
//
//   - A number that is missing, null, not finite or (unless strings were allowed) a string is no value.
//     It is never 0. A message with one sound value and one that is none counts for the sound one.
//   - Units are told by the person who set the probe up, never guessed; a humidity that cannot be in the
//     unit told is refused, see [HumidityUnit].
//   - What came before is never new: what a broker retained or delivers again, a sample whose instant
//     has not moved, a reading that is sent twice. A probe that died is not brought back by them.
//   - A reading is stamped by the shop's clock on arrival, unless its own time is trusted by option; a
//     sample of a [Query] always has the server's time.
//   - Each probe has its own [sensors.Judge].
//   - What is refused is counted by probe and [Refusal], and logged once a minute for each such pair.
//     At the same rate the probe is told as failed, with the reason; nothing else is disturbed.
//
// # MQTT messages
//
// A message is at most [MaxPayload] bytes of JSON (RFC 8259). A [Format] names where in it a probe's
// values stand, by paths such as temperature, sht.temp or sensors[0].temp; the path "." is for a message
// that is a bare number. With the options
//
//	Format{Temp: Field{Path: "sht.temp"}, TempUnit: Celsius, Humidity: Field{Path: "sht.rh"}, HumidityUnit: Percent, Time: "at"}
//
// this message is 21.37 °C and 44 %:
//
//	{"sht": {"temp": 21.37, "rh": 44}, "at": "2026-01-14T12:00:00Z", "battery": 2.9}
//
// A message that the broker retained is old. It counts only if it carries a time that is fresh.
// Messages are subscribed to with QoS 1, so one may come twice; it is recognized by its time or sequence.
// A message that is delivered again and has neither is dropped, since its age is unknown.
// It is acknowledged once the shop loop has it; where the broker is asked to keep messages
// ([MQTTOptions.KeepFor]), only once it is on disk, so that no crash of the shop loses it.
//
// # Push requests
//
// POST one reading or an array of up to [MaxBatch], at most [MaxPayload] bytes, with the header
// "Authorization: Bearer TOKEN" (RFC 6750):
//
//	{"probe": "bench", "temperature": 21.37, "humidity": 44, "sequence": 1207}
//
//	probe          name of the probe; required
//	temperature    number; null or left out for none
//	humidity       number; null or left out for none
//	unit           of the temperature: "C", "F" or "K"; else as the probe's options say
//	humidity_unit  "%" or "ratio"; else as the probe's options say
//	at             instant of the measurement as RFC 3339 has it, with a zone
//	sequence       whole number that the probe counts up, from 0
//
// The answer is 202 once the shop loop has taken every reading of the request; none of them is taken
// otherwise. They are on disk within the flush interval (60 s unless configured): a power cut before that
// loses them. A sender that can send again asks with the header "Prefer: wait=10" (RFC 7240, 4.3), up to
// 60, to be answered with 200 only once they are on disk, for which the shop gathers readings for a
// second. A reading that is sent again with the same sequence (or time) and values is
// answered the same and not taken twice. 400 to 422 mean that the request must be changed, and say in
// one sentence how; after 503 it may be sent again.
//
// # Queries
//
// PromQL expressions are evaluated by instant queries at an interval. For a plain selector the instant
// of a reading is that of the sample itself; for a computed expression a server has no other instant
// than that of the evaluation. After an outage the gap is filled by range queries.
package network
