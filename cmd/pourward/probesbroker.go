package main

import (
	"context"
	"flag"
	"fmt"
	"strings"
	"time"

	"pourward/sensors/network"
)

// brokerFlags say which broker to listen to.
type brokerFlags struct {
	network.OverhearOptions
	passwordFile string
	filters      string
}

func (f *brokerFlags) register(set *flag.FlagSet) {
	set.StringVar(&f.Broker, "broker", "", "`address` of an MQTT broker to listen to, such as tcp://192.168.1.5:1883")
	set.StringVar(&f.User, "user", "", "`name` to be known by at the broker")
	set.StringVar(&f.passwordFile, "password-file", "", "`file` with that user's password")
	set.StringVar(&f.TLS.CA, "ca", "", "`file` with the authorities to believe, for a tls:// address")
	set.StringVar(&f.filters, "topics", "#", "`filters` of the topics to listen to, with commas between them")
	set.DurationVar(&f.For, "listen", 20*time.Second, "how long to listen")
}

// senders are the topics of the broker, if one is given, whose messages hold numbers.
func (f probesFlags) senders(ctx context.Context) ([]*corner, error) {
	o := f.broker.OverhearOptions
	if o.Broker == "" {
		return nil, nil
	}
	var err error
	if o.Password, err = secretFrom(f.broker.passwordFile, "the broker's user"); err != nil {
		return nil, err
	}
	o.Filters = strings.Split(f.broker.filters, ",")
	heard, err := network.Overhear(ctx, o)
	if err != nil {
		return nil, err
	}
	c := &corner{title: fmt.Sprintf("Messages at %s in %s", o.Broker, o.For)}
	silent := 0
	for _, h := range heard {
		numbers := network.Numbers(h.Payload)
		if len(numbers) == 0 {
			silent++
			continue
		}
		c.add(topicThing(h, numbers))
	}
	c.note = f.broker.note(len(heard), silent)
	return []*corner{c}, nil
}

// note tells how to name the broker in the config, and what is not shown.
func (f brokerFlags) note(topics, silent int) string {
	keys := fmt.Sprintf("name: house, url: %q", f.Broker)
	for _, k := range [][2]string{{"user", f.User}, {"password_file", f.passwordFile}, {"ca", f.TLS.CA}} {
		if k[1] != "" {
			keys += fmt.Sprintf(", %s: %q", k[0], k[1])
		}
	}
	text := fmt.Sprintf("for the config file: brokers: [{%s}]", keys)
	if silent > 0 {
		text += fmt.Sprintf("; %d of %d topics had no number", silent, topics)
	}
	return text
}

// topicThing is a topic with the numbers of its newest message.
func topicThing(h network.Overheard, numbers []network.Number) *thing {
	var shown []string
	var temp, humidity *network.Number
	quoted := false
	for i, n := range numbers {
		shown = append(shown, fmt.Sprintf("%s %g", n.Path, n.Value))
		switch {
		case humidity == nil && called(h.Topic, n.Path, "hum", "rh", "h"):
			humidity = &numbers[i]
		case temp == nil && called(h.Topic, n.Path, "temp", "t"):
			temp = &numbers[i]
		}
	}
	t := &thing{title: fmt.Sprintf("%q, %s: %s", h.Topic, times(h), strings.Join(shown, ", "))}
	if temp == nil && humidity == nil {
		t.note = "nothing in it is called a temperature or a humidity; if something is one, name its path"
		return t
	}
	t.kind = fmt.Sprintf("mqtt: {broker: house, topic: %q", h.Topic)
	if temp != nil {
		t.kind += fmt.Sprintf(`, temperature: {path: %q, unit: "°C or °F"}`, temp.Path)
		t.note = `its unit cannot be known from here: keep "°C" or "°F"`
		quoted = temp.Quoted
	}
	if humidity != nil {
		unit := `"%"`
		if humidity.Value <= 1 {
			unit = "ratio"
		}
		t.kind += fmt.Sprintf(", humidity: {path: %q, unit: %s}", humidity.Path, unit)
		quoted = quoted || humidity.Quoted
	}
	if quoted {
		t.kind += ", quoted_numbers: true"
	}
	t.kind += "}"
	return t
}

// called reports whether a word at the end of a path, or at the end of the topic of a bare number, is one
// of the names or begins with a long one.
func called(topic, path string, names ...string) bool {
	end := path[strings.LastIndex(path, ".")+1:]
	if path == "." {
		end = topic[strings.LastIndex(topic, "/")+1:]
	}
	for _, word := range strings.FieldsFunc(strings.ToLower(end), func(r rune) bool { return r < 'a' || r > 'z' }) {
		for _, n := range names {
			if word == n || len(n) > 2 && strings.HasPrefix(word, n) {
				return true
			}
		}
	}
	return false
}

// times tells how often a topic spoke.
func times(h network.Overheard) string {
	switch {
	case h.Retained:
		return "kept by the broker"
	case h.Messages == 1:
		return "one message"
	}
	return fmt.Sprintf("%d messages", h.Messages)
}
