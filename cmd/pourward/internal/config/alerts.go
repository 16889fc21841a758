package config

import (
	"net/mail"
	"strconv"
	"strings"
	"time"

	"pourward/alerts/deliver"
	"pourward/cmd/pourward/internal/keyed"
	"pourward/sensors/network"
)

// Alerts are those who are told when an alert begins and ends. Names are unique among all of them.
type Alerts struct {
	Alertmanagers []Server
	Mail          *MailServer // nil: there is none
	Webhooks      []Webhook
	Quiet         *Quiet // nil: no hours are quiet
}

// Any reports whether anyone is told.
func (a Alerts) Any() bool { return len(a.Alertmanagers)+len(a.Webhooks) > 0 || a.Mail != nil }

// MailServer is a mail server, and who gets mail through it. Its secrets are in files of their own.
type MailServer struct {
	Host         string
	Port         int
	Encryption   deliver.Encryption
	TLS          network.TLSFiles
	User         string
	PasswordFile string
	From         string
	To           []Recipient // at least one
}

// Recipient is one who gets mail.
type Recipient struct{ Name, Address string }

// Webhook is an address that messages are posted to.
type Webhook struct {
	Server
	KeyFile string // file with the key that requests are signed with; empty: they are not
}

// Quiet are hours of the day.
type Quiet struct{ From, To time.Duration } // after local midnight; to the next day where To is not after From

const (
	alertmanagerExample = `{name: house, url: "http://192.168.1.5:9093"}`
	alertsExample       = `{alertmanagers: [` + alertmanagerExample + `]}`
	mailExample         = `{server: "mail.example.org:587", from: "pourward@example.org", to: [` + recipientExample + `]}`
	recipientExample    = `{name: maker, address: "maker@example.org"}`
	webhookExample      = `{name: phone, url: "https://push.example.org/annex"}`
	quietExample        = `{from: "22:00", to: "07:00"}`
)

func readAlerts(g *group) (a Alerts) {
	if g == nil {
		return a
	}
	defer g.Done()
	var names []named
	for _, s := range g.optionalList("alertmanagers", "alertmanager", alertmanagerExample) {
		a.Alertmanagers = append(a.Alertmanagers, readServer(s))
		names = append(names, s.named("name"))
	}
	if m := g.optionalGroup("mail", mailExample); m != nil {
		var to []named
		a.Mail, to = readMail(m)
		names = append(names, to...)
	}
	for _, w := range g.optionalList("webhooks", "webhook", webhookExample) {
		a.Webhooks = append(a.Webhooks, readWebhook(w))
		names = append(names, w.named("name"))
	}
	reportTwins(names, "target", "everyone who is told needs a name of their own")
	if g.Find("alertmanagers") == nil && g.Find("mail") == nil && g.Find("webhooks") == nil {
		g.Report(g.Node.At, "alerts: nobody is told", "write e.g. alertmanagers: ["+alertmanagerExample+"], or mail, or webhooks")
	}
	a.Quiet = readQuiet(g.optionalGroup("quiet", quietExample))
	return a
}

func readMail(g *group) (*MailServer, []named) {
	defer g.Done()
	g.refuseSecrets()
	ways := map[string]deliver.Encryption{"starttls": deliver.STARTTLS, "tls": deliver.Implicit, "none": deliver.Plaintext}
	m := &MailServer{Encryption: optional(g, "encryption", choice("starttls", ways), deliver.STARTTLS)}
	m.Host, m.Port = readMailServer(g, m.Encryption)
	m.User, m.PasswordFile = readUser(g)
	fix := ""
	if m.Encryption == deliver.Plaintext {
		fix = "write e.g. encryption: starttls, or delete this key"
	}
	m.TLS = readTLS(g, fix)
	if m.Encryption == deliver.Plaintext && m.User != "" {
		g.Report(g.At("user"), g.Path("user")+": no password is sent without encryption", "write e.g. encryption: starttls")
	}
	m.From = required(g, "from", mailAddress("pourward@example.org"))
	var names []named
	for _, r := range g.list("to", "recipient", recipientExample) {
		m.To = append(m.To, Recipient{
			Name:    required(r, "name", slug("maker")),
			Address: required(r, "address", mailAddress("maker@example.org")),
		})
		names = append(names, r.named("name"))
		r.Done()
	}
	return m, names
}

// readMailServer reads host:port; without a port it is the usual one.
func readMailServer(g *group, e deliver.Encryption) (host string, port int) {
	w := keyed.Then(keyed.Text("mail.example.org:587"), func(s string) (string, error) {
		host, digits := deliver.Address(s, e)
		n, err := strconv.ParseUint(digits, 10, 16)
		switch {
		case host == "" || strings.ContainsAny(s, "/@ "):
			return "", keyed.Wrongf("%q is no host, or host:port", s)
		case err != nil || n == 0:
			return "", keyed.Wrongf("%q: %s is no port from 1 to 65535", s, digits)
		}
		return s, nil
	})
	host, digits := deliver.Address(required(g, "server", w), e)
	port, _ = strconv.Atoi(digits) // what is none is reported
	return host, port
}

// mailAddress is one address without a name.
func mailAddress(example string) keyed.Want[string] {
	return keyed.Then(keyed.Text(example), func(s string) (string, error) {
		a, err := mail.ParseAddress(s)
		if err != nil || a.Name != "" || a.Address != s {
			return "", keyed.Wrongf("%q is no mail address", s)
		}
		return s, nil
	})
}

func readWebhook(g *group) Webhook {
	key := optional(g, "signing_key_file", path(g.dir, "/etc/pourward/phone.key"), "")
	return Webhook{Server: readServer(g), KeyFile: key}
}

func readQuiet(g *group) *Quiet {
	if g == nil {
		return nil
	}
	defer g.Done()
	faults := g.Faults()
	clock := func(example string) keyed.Want[time.Duration] { return keyed.Then(keyed.Text(example), parseClock) }
	q := &Quiet{From: required(g, "from", clock("22:00")), To: required(g, "to", clock("07:00"))}
	if g.Faults() == faults && q.From == q.To {
		g.Report(g.At("to"), g.Path("to")+": the quiet hours end when they begin", `write e.g. from: "22:00", to: "07:00"`)
	}
	return q
}
