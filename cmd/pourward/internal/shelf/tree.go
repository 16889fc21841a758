package shelf

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// kind is what a value is in YAML, before anything is read into it. Its words appear in messages.
type kind string

const (
	emptyKind  kind = "empty"
	textKind   kind = "text"
	numberKind kind = "a number"
	truthKind  kind = "true or false"
	listKind   kind = "a list"
	groupKind  kind = "a group of keys"
	spoiled    kind = "" // a problem already reported
)

// spot is a position in the file; both count from 1.
type spot struct{ line, column int }

// node is one value of the file. Anchors, aliases, tags and second documents are not used.
type node struct {
	kind  kind
	text  string // of text, numbers and truths: as written, quotes taken off
	at    spot
	items []*node // of a list
	keys  []key   // of a group, in order, none twice
}

type key struct {
	name  string
	at    spot
	value *node
}

const (
	// The parser slows with the square of size and depth. These keep it below a second, and are far
	// more than any shop needs.
	maxBytes = 32 << 10 // about forty products with every key
	maxDepth = 16       // brackets open at once, or dashes one inside the other
)

// tree reads the file's text. It returns nil when there is no use in looking further.
func (r *reader) tree(data []byte) *node {
	text := strings.TrimPrefix(string(data), "\ufeff")
	switch bad := firstBad(text); {
	case len(data) > maxBytes:
		r.report(spot{1, 1}, fmt.Sprintf("the file is larger than %d KiB", maxBytes>>10), "is this the right file?")
		return nil
	case bad != spot{}:
		r.report(bad, "this character is not UTF-8", "save the file as UTF-8")
		return nil
	}
	tokens := lexer.Tokenize(text)
	if deep := tooDeep(tokens); deep != nil {
		r.report(spotOf(deep), fmt.Sprintf("more than %d values are one inside the other here", maxDepth), "close brackets, and begin fewer lists in lists")
		return nil
	}
	file, err := parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
	if err != nil {
		r.reportSyntax(err)
		return nil
	}
	return r.document(file)
}

// firstBad is the spot of the first character of text that is not UTF-8, zero when there is none.
func firstBad(text string) spot {
	line := 1
	for rest := text; rest != ""; line++ {
		row, after, _ := strings.Cut(rest, "\n")
		if !utf8.ValidString(row) {
			good := strings.ToValidUTF8(row, "\x00")
			return spot{line, 1 + utf8.RuneCountInString(good[:commonBytes(good, row)])}
		}
		rest = after
	}
	return spot{}
}

// commonBytes counts the bytes that a and b begin with alike.
func commonBytes(a, b string) int {
	n := 0
	for n < len(a) && n < len(b) && a[n] == b[n] {
		n++
	}
	return n
}

// tooDeep gives the first token beyond maxDepth, nil when there is none.
func tooDeep(tokens token.Tokens) *token.Token {
	depth, dashes, line := 0, 0, 0
	for _, t := range tokens {
		if t.Position.Line != line {
			dashes, line = 0, t.Position.Line
		}
		switch t.Type {
		case token.SequenceEntryType:
			dashes++
		case token.SequenceStartType, token.MappingStartType:
			depth++
		case token.SequenceEndType, token.MappingEndType:
			depth--
		}
		if depth > maxDepth || dashes > maxDepth {
			return t
		}
	}
	return nil
}

func (r *reader) reportSyntax(err error) {
	at, message := spot{1, 1}, err.Error()
	var located yaml.Error
	if errors.As(err, &located) {
		at, message = spotOf(located.GetToken()), located.GetMessage() // its Error would copy the file
	}
	r.report(at, "not YAML: "+strings.ReplaceAll(message, "\t", `\t`), `indent with spaces, and put text with signs in it in quotes, e.g. "2 %"`)
}

// document returns the file's one document; an empty file is an empty group.
func (r *reader) document(file *ast.File) *node {
	root := &node{kind: groupKind, at: spot{1, 1}}
	found := false
	for _, doc := range file.Docs {
		switch {
		case doc.Body == nil || doc.Body.Type() == ast.NullType:
		case found:
			r.report(begin(doc.Body), "a second document begins here", "keep all in one document without ---")
		default:
			root, found = r.node(doc.Body), true
		}
	}
	return root
}

// node frees one value of the parser's types.
func (r *reader) node(n ast.Node) *node {
	at := begin(n)
	switch n := n.(type) {
	case *ast.NullNode:
		return &node{kind: emptyKind, at: at}
	case *ast.StringNode:
		return &node{kind: textKind, text: n.Value, at: at}
	case *ast.LiteralNode:
		return &node{kind: textKind, text: n.Value.Value, at: at}
	case *ast.IntegerNode, *ast.FloatNode, *ast.InfinityNode, *ast.NanNode:
		return &node{kind: numberKind, text: n.GetToken().Value, at: at}
	case *ast.BoolNode:
		return &node{kind: truthKind, text: n.GetToken().Value, at: at}
	case *ast.SequenceNode:
		out := &node{kind: listKind, at: at}
		for _, value := range n.Values {
			out.items = append(out.items, r.node(value))
		}
		return out
	case *ast.MappingNode:
		return r.groupNode(n, at)
	}
	r.report(at, "anchors, aliases, tags and directives are not used here", "write the value itself")
	return &node{kind: spoiled, at: at}
}

func (r *reader) groupNode(n *ast.MappingNode, at spot) *node {
	out := &node{kind: groupKind, at: at}
	first := map[string]spot{}
	for _, entry := range n.Values {
		name := entry.Key.GetToken()
		at := spotOf(name)
		before, twice := first[name.Value]
		if _, plain := entry.Key.(*ast.StringNode); !plain {
			r.report(at, "this is no plain key", "write e.g. name: value")
			continue
		}
		if twice {
			r.report(at, fmt.Sprintf("key %q is here a second time, first on line %d", name.Value, before.line), "keep one of them")
			continue
		}
		first[name.Value] = at
		out.keys = append(out.keys, key{name.Value, at, r.node(entry.Value)})
	}
	return out
}

// begin is where a value begins. For a group without braces the parser itself gives its first colon.
func begin(n ast.Node) spot {
	if m, ok := n.(*ast.MappingNode); ok && !m.IsFlowStyle && len(m.Values) > 0 {
		return spotOf(m.Values[0].Key.GetToken())
	}
	return spotOf(n.GetToken())
}

func spotOf(t *token.Token) spot {
	if t == nil || t.Position == nil {
		return spot{1, 1}
	}
	return spot{t.Position.Line, t.Position.Column}
}
