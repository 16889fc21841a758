package config_test

import (
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/alerts/deliver"
	"pourward/cmd/pourward/internal/config"
)

func TestWhoIsTold(t *testing.T) {
	got, err := config.Load("testdata/kinds.yml")
	require.NoError(t, err)
	here := func(name string) string { return filepath.Join("testdata", name) }
	require.Equal(t, config.Alerts{
		Alertmanagers: []config.Server{
			{Name: "house", URL: "http://192.168.1.5:9093"},
			{Name: "other", URL: "https://192.168.1.6:9093/am", TokenFile: here("other.token")},
		},
		Mail: &config.MailServer{
			Host: "mail.example.org", Port: 465, Encryption: deliver.Implicit, User: "annex", PasswordFile: here("mail.password"),
			From: "pourward@example.org", To: []config.Recipient{{"maker", "maker@example.org"}, {"keeper", "keeper@example.org"}},
		},
		Webhooks: []config.Webhook{{
			Server:  config.Server{Name: "phone", URL: "https://push.example.org/annex", TokenFile: here("phone.token")},
			KeyFile: here("phone.key"),
		}},
		Quiet: &config.Quiet{From: 22 * time.Hour, To: 7 * time.Hour},
	}, got.Alerts)
	require.True(t, got.Alerts.Any())

	got, err = config.Parse("/etc/pourward/shop.yml", offered())
	require.NoError(t, err)
	require.Equal(t, 587, got.Alerts.Mail.Port)
	require.Equal(t, deliver.STARTTLS, got.Alerts.Mail.Encryption)
	require.NotNil(t, got.Alerts.Quiet)

	got, err = config.Parse("shop.yml", []byte(smallest))
	require.NoError(t, err)
	require.False(t, got.Alerts.Any())
}

// Each row writes one line of the alerts of kinds.yml anew; lines are counted from the one that says alerts.
func TestBadAlerts(t *testing.T) {
	sound, err := os.ReadFile("testdata/kinds.yml")
	require.NoError(t, err)
	const first = 92
	require.Equal(t, "alerts:", lineOf(sound, first))
	for _, row := range table(t, "testdata/bad_alerts.csv") {
		t.Run(row["case"], func(t *testing.T) {
			line, err := strconv.Atoi(row["line"])
			require.NoError(t, err)
			_, err = config.Parse("shop.yml", replaceLine(sound, first+line, row["write"]))
			require.EqualError(t, err, row["problem"])
		})
	}
}

func TestMailWithoutEncryption(t *testing.T) {
	mail := func(keys string) error {
		_, err := config.Parse("shop.yml", []byte(smallest+`alerts: {mail: {server: localhost, encryption: none, from: "a@example.org", to: [{name: maker, address: "b@example.org"}]`+keys+`}}`))
		return err
	}
	require.NoError(t, mail(""))
	require.EqualError(t, mail(`, user: annex`), `shop.yml:6:130: alerts.mail.user: no password is sent without encryption; write e.g. encryption: starttls`)
	require.EqualError(t, mail(`, ca: ca.pem`), `shop.yml:6:124: alerts.mail.ca: the connection is not encrypted; write e.g. encryption: starttls, or delete this key`)
}
