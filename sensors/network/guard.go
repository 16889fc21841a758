package network

import (
	"bufio"
	"errors"
	"net"
)

// mostPacket is the largest MQTT packet that is read, so that a message too large for a probe is still
// seen, counted and told of.
const mostPacket = 1 << 20

// guard stands between the broker and the client, which would reserve as much memory as a packet's
// header asks for, up to 256 MiB. It follows the headers (MQTT 5.0, 2.1) and ends the connection at one
// that is too large or cannot be.
type guard struct {
	net.Conn
	in   *bufio.Reader
	left int // bytes of the packet under way
	head int // bytes of the header read so far; 0 before the type
}

var errPacket = errors.New("the broker sends a packet that is too large or malformed")

func guarded(c net.Conn) *guard { return &guard{Conn: c, in: bufio.NewReader(c)} }

// Read reads from the broker, never beyond the header or the packet under way.
func (g *guard) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	if g.left > 0 && g.head == 0 {
		n, err := g.in.Read(p[:min(len(p), g.left)])
		g.left -= n
		return n, err
	}
	b, err := g.in.ReadByte()
	if err != nil {
		return 0, err
	}
	if err := g.header(b); err != nil {
		return 0, err
	}
	p[0] = b
	return 1, nil
}

// header follows one byte of a header: the type, then up to four bytes of length, seven bits each,
// the last without its top bit.
func (g *guard) header(b byte) error {
	g.head++
	if g.head == 1 {
		return nil
	}
	g.left |= int(b&0x7F) << (7 * (g.head - 2))
	switch {
	case g.left > mostPacket || b&0x80 != 0 && g.head == 5:
		return errPacket
	case b&0x80 == 0:
		g.head = 0
	}
	return nil
}
