package deliver

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	standardwebhooks "github.com/standard-webhooks/standard-webhooks/libraries/go"
	"github.com/stretchr/testify/require"

	"pourward/alerts"
)

const vectorKey = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"

// The vector is that of the Standard Webhooks project's own tests (libraries/go/webhook_test.go,
// TestWebhookSign, v0.0.1); implementations in other languages have the same.
func TestSignatureIsThatOfTheSpecification(t *testing.T) {
	c, err := newCaller(Webhook{Name: "phone", SigningKey: vectorKey})
	require.NoError(t, err)
	got, err := c.signer.Sign("msg_p5jXN8AQM9LWM0D4loKWxJek", time.Unix(1614265330, 0), []byte(`{"test": 2432232314}`))
	require.NoError(t, err)
	require.Equal(t, "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=", got)
}

func TestKeysThatAreNone(t *testing.T) {
	for _, key := range []string{"whsec_", "whsec_AAAA", "whsec_!" + strings.Repeat("A", 40), "whsec_" + strings.Repeat("A", 88)} {
		_, err := newCaller(Webhook{Name: "phone", SigningKey: key})
		require.ErrorContains(t, err, "set up webhook phone: the signing key is not whsec_ and 24 to 64 bytes in base64")
		require.NotContains(t, err.Error(), key[6:]+"x")
	}
}

func cold() *parcel {
	p := &parcel{Message: Message{Kind: News, Shop: "Annex", Mold: "frieze", At: time.Date(2026, 1, 15, 9, 30, 0, 0, time.UTC)}}
	p.add(&episode{id: 1, alert: alerts.Alert{
		Name: "PourwardShopTooCold", Severity: alerts.Warning, Labels: map[string]string{"place": "bench"},
		Since: time.Date(2026, 1, 15, 9, 0, 0, 0, time.UTC), Summary: "It is cold.", Description: "It is 6 °C.", WhatToDo: "Warm it.",
	}}, began)
	p.Message.finish("phone", time.UTC)
	return p
}

// What a receiver gets, to the letter, but for key and time: the form is a promise.
func TestBodyOfAWebhook(t *testing.T) {
	m := cold().Message
	require.Regexp(t, "^[0-9a-f]{32}$", m.Key)
	m.Key = "KEY"
	body, err := json.MarshalIndent(m, "", " ")
	require.NoError(t, err)
	require.Equal(t, `{
 "key": "KEY",
 "kind": "news",
 "shop": "Annex",
 "mold": "frieze",
 "at": "2026-01-15T09:30:00Z",
 "title": "frieze: It is cold.",
 "text": "frieze: It is cold.\n\nwarning, since Thu 15 Jan 09:00 (place bench)\nIt is 6 °C.\nWhat to do: Warm it.\n",
 "began": [
  {
   "name": "PourwardShopTooCold",
   "severity": "warning",
   "labels": {
    "place": "bench"
   },
   "summary": "It is cold.",
   "description": "It is 6 °C.",
   "what_to_do": "Warm it.",
   "since": "2026-01-15T09:00:00Z"
  }
 ]
}`, string(body))
}

// A request is signed, carries the token, and its key; the receiver verifies it with the reference library.
func TestRequestOfAWebhook(t *testing.T) {
	wh, err := standardwebhooks.NewWebhook(vectorKey)
	require.NoError(t, err)
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
		body, err := io.ReadAll(req.Body)
		if err != nil || wh.Verify(body, req.Header) != nil || req.Header.Get("Authorization") != "Bearer s3cret" ||
			req.Header.Get("Content-Type") != "application/json" || req.Header.Get("webhook-id") != cold().Message.Key {
			w.WriteHeader(http.StatusForbidden)
		}
	}))
	defer srv.Close()
	c, err := newCaller(Webhook{Name: "phone", URL: srv.URL, SigningKey: vectorKey, Access: Access{Token: "s3cret"}})
	require.NoError(t, err)
	require.NoError(t, c.send(t.Context(), &cold().Message))
}

// What an answer means for the message, and that no failure shows the address or a secret.
func TestAnswersOfAWebhook(t *testing.T) {
	for name, c := range map[string]struct {
		answer           http.HandlerFunc
		certain, forGood bool
		says             string
	}{
		"forbidden": {func(w http.ResponseWriter, _ *http.Request) { http.Error(w, "bad\ntoken", http.StatusForbidden) }, true, true, "it answered 403 Forbidden: bad token"},
		"busy":      {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusServiceUnavailable) }, true, false, "it answered 503 Service Unavailable"},
		"too many":  {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusTooManyRequests) }, true, false, "it answered 429 Too Many Requests"},
		"broken":    {func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusInternalServerError) }, false, false, "it answered 500 Internal Server Error"},
		"sent on": {func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Location", "http://192.0.2.1/")
			w.WriteHeader(http.StatusTemporaryRedirect)
		}, true, true, "it answered 307 Temporary Redirect"},
		"hangs up": {func(http.ResponseWriter, *http.Request) { panic(http.ErrAbortHandler) }, false, false, "EOF"},
	} {
		t.Run(name, func(t *testing.T) {
			srv := httptest.NewServer(c.answer)
			defer srv.Close()
			call, err := newCaller(Webhook{Name: "phone", URL: srv.URL + "/geheim", Access: Access{User: "annex", Password: "geheim"}})
			require.NoError(t, err)
			err = call.send(t.Context(), &cold().Message)
			require.EqualError(t, err, c.says)
			how, certain := refused(err)
			require.Equal(t, c.certain, certain)
			require.Equal(t, c.forGood, how.forGood)
		})
	}
	call, err := newCaller(Webhook{Name: "phone", URL: "http://127.0.0.1:1/geheim"})
	require.NoError(t, err)
	err = call.send(t.Context(), &cold().Message)
	require.ErrorContains(t, err, "connection refused")
	require.NotContains(t, err.Error(), "geheim")
	_, certain := refused(err)
	require.True(t, certain, "nothing was sent")
}
