package network

import (
	"encoding/json"
	"maps"
	"slices"
)

// Number is a number in a message.
type Number struct {
	Path   string // for a [Field]
	Value  float64
	Quoted bool // it is written as a text; see [Format]
}

// mostNumbers is how many numbers of a message are listed.
const mostNumbers = 64

// Numbers lists the numbers in a message, in the order of their paths, to find out which of them to name
// in a [Format]. It is empty for a message that is not JSON.
func Numbers(payload []byte) []Number {
	doc, r := decode(payload)
	if r != nil {
		return nil
	}
	return appendNumbers(nil, path{}, doc)
}

func appendNumbers(out []Number, at path, v any) []Number {
	below := func(s step) path { return append(slices.Clone(at), s) }
	switch v := v.(type) {
	case map[string]any:
		for _, key := range slices.Sorted(maps.Keys(v)) {
			if key != "" { // no path leads there
				out = appendNumbers(out, below(step{key: key, index: -1}), v[key])
			}
		}
		return out
	case []any:
		for i, item := range v[:min(len(v), mostNumbers)] {
			out = appendNumbers(out, below(step{index: i}), item)
		}
		return out
	case json.Number, string:
		_, quoted := v.(string)
		f := form{Format: Format{NumericStrings: true}}
		if n, err := f.number(v); err == nil && len(out) < mostNumbers && len(at) <= mostSteps {
			out = append(out, Number{at.String(), n, quoted})
		}
	}
	return out
}
