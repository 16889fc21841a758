package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/url"
	"time"

	"pourward/alerts/deliver"
	"pourward/cmd/pourward/internal/config"
	"pourward/model"
	"pourward/sensors/network"
)

// callsOf judges whether a shop with these probes may call anyone.
func callsOf(c *config.Config, recordedOnly bool) error {
	if recordedOnly && c.Alerts.Any() {
		return errors.New("the probes are recorded files: whoever is named under alerts would be told of another time; delete alerts")
	}
	return nil
}

// callsFrom are those who are told of alerts by the config; nil for nobody. It reads their secrets.
func callsFrom(c *config.Config, recordedOnly bool, log *slog.Logger) (*deliver.Options, error) {
	if err := callsOf(c, recordedOnly); err != nil || !c.Alerts.Any() {
		return nil, err
	}
	o := &deliver.Options{Shop: c.Shop.Name, Zone: c.Shop.Zone, File: c.Journal.File + ".messages", Now: time.Now, Log: log}
	if q := c.Alerts.Quiet; q != nil {
		o.Quiet = &deliver.Quiet{From: q.From, To: q.To, Zone: c.Shop.Zone}
	}
	var errs []error
	for _, a := range c.Alerts.Alertmanagers {
		access, err := accessTo(a, "Alertmanager "+a.Name)
		errs = append(errs, err)
		o.Alertmanagers = append(o.Alertmanagers, deliver.Alertmanager{Name: a.Name, URL: a.URL, Access: access})
	}
	for _, w := range c.Alerts.Webhooks {
		access, err := accessTo(w.Server, "webhook "+w.Name)
		key, err2 := secretFrom(w.KeyFile, "webhook "+w.Name)
		errs = append(errs, err, err2)
		o.Webhooks = append(o.Webhooks, deliver.Webhook{Name: w.Name, URL: w.URL, Access: access, SigningKey: key})
	}
	mails, err := mailsFrom(c.Alerts.Mail)
	o.Mails = mails
	return o, errors.Join(append(errs, err)...)
}

func mailsFrom(m *config.MailServer) (out []deliver.Mail, err error) {
	if m == nil {
		return nil, nil
	}
	password, err := secretFrom(m.PasswordFile, "mail")
	for _, r := range m.To {
		out = append(out, deliver.Mail{
			Name: r.Name, Host: m.Host, Port: m.Port, Encryption: m.Encryption, TLS: tlsTo(m.TLS, m.Host),
			User: m.User, Password: password, From: m.From, To: r.Address,
		})
	}
	return out, err
}

func accessTo(s config.Server, who string) (deliver.Access, error) {
	password, err := secretFrom(s.PasswordFile, who)
	token, err2 := secretFrom(s.TokenFile, who)
	host := ""
	if u, err := url.Parse(s.URL); err == nil { // the config was checked
		host = u.Hostname()
	}
	return deliver.Access{User: s.User, Password: password, Token: token, TLS: tlsTo(s.TLS, host)}, errors.Join(err, err2)
}

func tlsTo(files network.TLSFiles, host string) deliver.TLS {
	return func() (*tls.Config, error) { return files.Config(host) }
}

// openCalls opens the books of who was told what; nil where nobody is told.
func openCalls(ctx context.Context, o shopOptions) (*deliver.Deliverer, error) {
	if o.calls == nil {
		return nil, nil
	}
	calls := *o.calls
	calls.Now = o.clock.Now
	return deliver.Open(ctx, calls)
}

// callsHealth tells how the delivery of alerts stands; nil where nobody is told.
func callsHealth(d *deliver.Deliverer) func() []model.DeliveryHealth {
	if d == nil {
		return nil
	}
	return func() (out []model.DeliveryHealth) {
		for _, h := range d.Health() {
			out = append(out, model.DeliveryHealth{
				Target: h.Target, Channel: string(h.Channel), Waiting: h.Waiting, Held: h.Held, Oldest: h.Oldest,
				Sent: h.Sent, Failed: h.Failed, Given: h.Given, Err: h.Err,
			})
		}
		return out
	}
}

const tryAbout = `Sends a trial to everyone whom the config file names under alerts, one after another, and tells what came of
it. An Alertmanager is told of an alert called ` + deliver.TrialName + `, which ends by itself after a minute.
Nothing is noted, and a daemon that runs is not disturbed.`

func tryMessage(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("try-message", "", tryAbout, errs)
	file := fs.String("config", defaultConfig, "config `file`")
	to := fs.String("to", "", "try only the one of this `name`")
	if err := parse(fs, args, 0); err != nil {
		return err
	}
	c, err := config.Load(*file)
	if err != nil {
		return err
	}
	o, err := callsFrom(c, false, slog.New(slog.DiscardHandler))
	if err != nil {
		return err
	}
	if o == nil {
		return fmt.Errorf("%s names nobody under alerts; pourward check-config -example shows how", *file)
	}
	tried, err := deliver.Try(ctx, *o, *to)
	if err != nil {
		return err
	}
	return tellTried(out, tried, *to)
}

func tellTried(out io.Writer, tried []deliver.Tried, to string) error {
	if len(tried) == 0 {
		return fmt.Errorf("nobody under alerts is called %q", to)
	}
	failed := 0
	for _, t := range tried {
		if t.Err != nil {
			failed++
			fmt.Fprintf(out, "%s %s: not taken: %v\n", t.Channel, t.Target, t.Err)
			continue
		}
		fmt.Fprintf(out, "%s %s: taken\n", t.Channel, t.Target)
	}
	if failed > 0 {
		return fmt.Errorf("%s of %d not reached", several(failed, "target"), len(tried))
	}
	return nil
}
