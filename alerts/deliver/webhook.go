package deliver

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"
)

// Webhook is an address that takes a [Message] as JSON by POST and answers 2xx when it has it. The header
// webhook-id holds the key of the message: whoever has seen it already must drop the message and answer 2xx.
type Webhook struct {
	Name   string
	URL    string
	Access Access
	// SigningKey signs each request by the Standard Webhooks specification, symmetric scheme (HMAC-SHA256 over
	// "id.timestamp.body"): "whsec_" and 24 to 64 bytes in base64. Empty: requests are not signed.
	SigningKey string
}

// bounds of a signing key, by the specification.
const shortestKey, longestKey = 24, 64

type caller struct {
	Webhook
	client *http.Client
	signer *standardwebhooks.Webhook // nil: not signed
}

func newCaller(w Webhook) (*caller, error) {
	c := &caller{Webhook: w, client: newClient(w.Access.TLS)}
	if w.SigningKey == "" {
		return c, nil
	}
	key, err := decodeKey(w.SigningKey)
	if err != nil {
		return nil, fmt.Errorf("set up webhook %s: %w", w.Name, err)
	}
	c.signer, err = standardwebhooks.NewWebhookRaw(key)
	return c, err
}

func (c *caller) send(ctx context.Context, m *Message) error {
	body, err := json.Marshal(m)
	if err != nil {
		return &refusal{why: err}
	}
	now := time.Now() // of the request, not of the shop: the receiver compares it with its own
	header := http.Header{}
	header.Set(standardwebhooks.HeaderWebhookID, m.Key)
	header.Set(standardwebhooks.HeaderWebhookTimestamp, strconv.FormatInt(now.Unix(), 10))
	if c.signer != nil {
		signature, err := c.signer.Sign(m.Key, now, body)
		if err != nil {
			return &refusal{why: errors.New("the request cannot be signed")}
		}
		header.Set(standardwebhooks.HeaderWebhookSignature, signature)
	}
	_, err = post(ctx, c.client, c.URL, c.Access, header, body)
	return err
}
