package network

import (
	"errors"
	"strings"
	"unicode/utf8"
)

// checkTopic says what is wrong with the name of a topic (MQTT 5.0, 4.7.1 and 4.7.3).
func checkTopic(topic string) error {
	if strings.ContainsAny(topic, "+#") {
		return errors.New("a topic has no wildcards; give filters for them")
	}
	return checkText(topic)
}

// checkFilter says what is wrong with a filter of topics (MQTT 5.0, 4.7.1).
func checkFilter(filter string) error {
	if filter == "" {
		return errors.New("it is empty")
	}
	levels := strings.Split(filter, "/")
	for i, l := range levels {
		switch {
		case strings.Contains(l, "#") && (l != "#" || i < len(levels)-1):
			return errors.New("# must stand alone at the end, as in shop/#")
		case strings.Contains(l, "+") && l != "+":
			return errors.New("+ must stand alone between slashes, as in shop/+/climate")
		case i == 0 && l == "$share":
			return errors.New("a share of messages is not enough: every reading is needed")
		}
	}
	return checkText(filter)
}

func checkText(text string) error {
	if len(text) > longestTopic || strings.ContainsRune(text, 0) || !utf8.ValidString(text) {
		return errors.New("it must be UTF-8 of at most 65535 bytes and without NUL")
	}
	return nil
}

// matches reports whether messages of a topic come by a filter (MQTT 5.0, 4.7.1 and 4.7.2).
func matches(filter, topic string) bool {
	if strings.HasPrefix(topic, "$") && !strings.HasPrefix(filter, "$") {
		return false
	}
	f, t := strings.Split(filter, "/"), strings.Split(topic, "/")
	for i, level := range f {
		switch {
		case level == "#":
			return true
		case i == len(t) || level != "+" && level != t[i]:
			return false
		}
	}
	return len(f) == len(t)
}
