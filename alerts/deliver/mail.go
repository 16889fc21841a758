package deliver

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync/atomic"

	"github.com/wneessen/go-mail"
)

// Encryption is how the connection to a mail server is protected.
type Encryption int

// The ways.
const (
	STARTTLS  Encryption = iota // begins in the clear, and goes on encrypted or not at all (RFC 3207)
	Implicit                    // encrypted from the beginning (RFC 8314)
	Plaintext                   // not protected: for a server on this board; no password is sent
)

// Mail is one person who gets mail.
type Mail struct {
	Name           string
	Host           string
	Port           int
	Encryption     Encryption
	TLS            TLS // nil: the system's authorities
	User, Password string
	From, To       string // addresses
}

type mailer struct {
	Mail
	dial mail.DialContextFunc // nil: over the network
}

func newMailer(m Mail) (*mailer, error) {
	s := &mailer{Mail: m}
	if m.Encryption == Plaintext && m.User != "" {
		return nil, fmt.Errorf("set up mail to %s: no password is sent without encryption", m.Name)
	}
	if _, err := s.compose(&Message{Key: "0"}); err != nil {
		return nil, fmt.Errorf("set up mail to %s: %w", m.Name, err)
	}
	return s, nil
}

// send hands a message to the server. Whether that took it is open only where the connection is lost after
// the last byte and before the answer.
func (s *mailer) send(ctx context.Context, m *Message) error {
	letter, err := s.compose(m)
	if err != nil {
		return &refusal{why: err}
	}
	var handing atomic.Bool
	result := make(chan error, 1)
	go func() { result <- s.hand(ctx, letter, &handing) }()
	select {
	case err := <-result:
		return err
	case <-ctx.Done(): // a server that hangs is left to its time limits, which end that goroutine
	}
	if !handing.Load() {
		return &refusal{why: ctx.Err()}
	}
	return ctx.Err()
}

// hand connects and hands a letter over; handing tells when that begins.
func (s *mailer) hand(ctx context.Context, letter *mail.Msg, handing *atomic.Bool) error {
	client, err := s.client()
	if err != nil {
		return &refusal{why: err}
	}
	if err := client.DialWithContext(ctx); err != nil {
		return &refusal{why: err}
	}
	defer func() { _ = client.Close() }() // what matters is told by the answer to the message
	handing.Store(true)
	err = client.Send(letter)
	if letter.IsDelivered() {
		return nil
	}
	return judgeMail(err)
}

func judgeMail(err error) error {
	var failed *mail.SendError
	switch {
	case !errors.As(err, &failed):
		return err
	case failed.ErrorCode() >= 400:
		return &refusal{why: err, answered: true, forGood: failed.ErrorCode() >= 500}
	case failed.Reason != mail.ErrSMTPDataClose:
		return &refusal{why: err}
	}
	return err
}

func (s *mailer) client() (*mail.Client, error) {
	o := []mail.Option{mail.WithPort(s.Port), mail.WithTimeout(attemptTime / 2), mail.WithoutNoop()}
	switch s.Encryption {
	case STARTTLS:
		o = append(o, mail.WithTLSPolicy(mail.TLSMandatory))
	case Implicit:
		o = append(o, mail.WithSSL())
	case Plaintext:
		o = append(o, mail.WithTLSPolicy(mail.NoTLS))
	}
	config := &tls.Config{ServerName: s.Host, MinVersion: tls.VersionTLS12}
	if s.TLS != nil {
		var err error
		if config, err = s.TLS(); err != nil {
			return nil, err
		}
	}
	o = append(o, mail.WithTLSConfig(config))
	if s.dial != nil {
		o = append(o, mail.WithDialContextFunc(s.dial))
	}
	if s.User != "" {
		o = append(o, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover), mail.WithUsername(s.User), mail.WithPassword(s.Password))
	}
	return mail.NewClient(s.Host, o...)
}

func (s *mailer) compose(m *Message) (*mail.Msg, error) {
	letter := mail.NewMsg()
	if err := letter.From(s.From); err != nil {
		return nil, err
	}
	if err := letter.To(s.To); err != nil {
		return nil, err
	}
	domain := s.From[strings.LastIndex(s.From, "@")+1:]
	letter.SetMessageIDWithValue(m.Key + "@" + strings.TrimRight(domain, ">"))
	letter.SetDateWithValue(m.At)
	letter.Subject(m.Title)
	letter.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no holiday replies
	if m.urgent() && m.Kind != Trial {
		letter.SetImportance(mail.ImportanceUrgent)
	}
	letter.SetBodyString(mail.TypeTextPlain, m.Text)
	return letter, nil
}

// Address splits host and port of a mail server; without a port it is the usual one of the encryption.
func Address(server string, e Encryption) (host, port string) {
	host, port, err := net.SplitHostPort(server)
	if err == nil {
		return host, port
	}
	usual := map[Encryption]string{STARTTLS: "587", Implicit: "465", Plaintext: "25"}
	return strings.Trim(server, "[]"), usual[e]
}
