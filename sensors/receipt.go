package sensors

// Receipt is how a source that owes a sender an answer learns that its readings have arrived. The source
// sends it by itself, in a [Reading] that holds nothing else, after the readings it is for: whoever takes
// readings gets them in order, and so has those when the receipt comes.
type Receipt struct {
	Safe    bool // not before the readings are on disk; else as soon as the shop loop has them
	settled chan error
}

// NewReceipt returns one that is not settled.
func NewReceipt(safe bool) *Receipt { return &Receipt{Safe: safe, settled: make(chan error, 1)} }

// Settle says once that the readings have arrived, or why they are not safe. It never waits.
func (r *Receipt) Settle(err error) {
	select {
	case r.settled <- err:
	default: // it was settled before
	}
}

// Settled gives what [Receipt.Settle] was told.
func (r *Receipt) Settled() <-chan error { return r.settled }
