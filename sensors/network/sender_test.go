package network

import (
	"context"
	"net"
	"testing"
	"time"

	"github.com/eclipse/paho.golang/paho"
	"github.com/stretchr/testify/require"
)

// sender is a probe's own connection to a broker.
type sender struct {
	t      testing.TB
	conn   net.Conn
	client *paho.Client
}

// newSender connects; will is the topic on which the broker says "offline" once the sender is gone.
func newSender(t testing.TB, b *broker, will string) *sender {
	t.Helper()
	conn, err := net.Dial("tcp", "127.0.0.1:"+b.port)
	require.NoError(t, err)
	s := &sender{t: t, conn: conn, client: paho.NewClient(paho.ClientConfig{Conn: conn})}
	connect := &paho.Connect{CleanStart: true, KeepAlive: 30}
	if will != "" {
		connect.WillMessage = &paho.WillMessage{Topic: will, Payload: []byte("offline"), QoS: 1, Retain: true}
	}
	_, err = s.client.Connect(context.Background(), connect)
	require.NoError(t, err)
	t.Cleanup(func() { conn.Close() })
	return s
}

func (s *sender) send(topic, payload string) { s.publish(topic, payload, 1, false) }

func (s *sender) retain(topic, payload string) { s.publish(topic, payload, 1, true) }

func (s *sender) publish(topic, payload string, qos byte, retain bool) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	_, err := s.client.Publish(ctx, &paho.Publish{Topic: topic, Payload: []byte(payload), QoS: qos, Retain: retain})
	require.NoError(s.t, err)
}

// die breaks the connection as a probe does that loses its supply.
func (s *sender) die() { s.conn.Close() }
