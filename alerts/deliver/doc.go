// Package deliver gets alerts out of the shop: to Alertmanagers, and as messages by mail and webhook where
// there is none.
//
// A [Deliverer] is told what fires with every snapshot, by [Deliverer.Tell], which never waits. It keeps books
// of which alert was told to whom, in a file of its own, and sends to every target on a goroutine of its own:
// one that is dead delays no other. What each must still hear is the difference between what stands and what it
// was told, so that after an outage it hears of each thing once, as it is by then.
//
// # What is promised
//
// Every alert reaches every target at least once, and its end as well, however often the daemon, the network or
// the target fails meanwhile; none is repeated without news. A message has a key, which stays the same when it
// is sent again: the Message-ID of a mail, the webhook-id of a request. A message is sent again, with the same
// key and the same words, only where nobody can know whether it was taken: the daemon was killed while it was
// sending, or the connection was lost before the answer. There is no way round that: SMTP and HTTP have no
// question "did you take this?". A webhook can drop the second by its key, and many mail servers do.
// Where the target answered that it did not take the message, the next try tells how things stand by then, unless
// an earlier one may have been taken.
//
// There is no library of phone services in here: those known keep nothing that could not be sent and know no
// repetition, and would make the daemon a tenth larger; such services take a webhook, or mail.
//
// What ended more than a week ago, and the oldest of more than a thousand ended alerts, is given up, and counted.
// If the file of the books cannot be written, alerts are sent all the same; a restart may then tell them again.
package deliver
