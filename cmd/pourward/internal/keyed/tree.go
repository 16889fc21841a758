package keyed

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

	"pourward/sensors"
)

// Kind is what a value is in YAML, before anything is read into it. Its words appear in messages.
type Kind string

// What a value can be.
const (
	EmptyKind  Kind = "empty"
	TextKind   Kind = "text"
	NumberKind Kind = "a number"
	TruthKind  Kind = "true or false"
	ListKind   Kind = "a list"
	GroupKind  Kind = "a group of keys"
	Spoiled    Kind = "" // a problem already reported
)

// Spot is a position in the file; both count from 1.
type Spot struct{ Line, Column int }

// Node is one value of the file. Anchors, aliases, tags and second documents are not used.
type Node struct {
	Kind  Kind
	Text  string // of text, numbers and truths: as written, quotes taken off
	At    Spot
	Items []*Node // of a list
	Keys  []Key   // of a group, in order, none twice
}

// Key is one key of a group with its value.
type Key struct {
	Name  string
	At    Spot
	Value *Node // never nil
}

// maxBytes keeps the parser, which slows with the square of size and depth, below a second, and is far
// more than any shop needs: about two hundred probes, or forty products with every key.
const maxBytes = 32 << 10

// tree reads the file's text. It returns nil when there is no use in looking further.
func (r *Reader) tree(data []byte) *Node {
	text := strings.TrimPrefix(string(data), "\ufeff")
	switch bad := firstBad(text); {
	case len(data) > maxBytes:
		r.Report(Spot{1, 1}, fmt.Sprintf("the file is larger than %d KiB", maxBytes>>10), "is this the right file?")
		return nil
	case bad != Spot{}:
		r.Report(bad, "this character is not UTF-8", "save the file as UTF-8")
		return nil
	}
	tokens := lexer.Tokenize(text)
	if deep := tooDeep(tokens, r.Form.Deepest); deep != nil {
		r.Report(spotOf(deep), fmt.Sprintf("more than %d values are one inside the other here", r.Form.Deepest), "close brackets, and begin fewer lists in lists")
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
func firstBad(text string) Spot {
	n := sensors.Legible(text)
	if n == len(text) {
		return Spot{}
	}
	row := text[strings.LastIndexByte(text[:n], '\n')+1 : n]
	return Spot{1 + strings.Count(text[:n], "\n"), 1 + utf8.RuneCountInString(row)}
}

// tooDeep gives the first token with more than deepest brackets open at once, or dashes one inside the
// other, nil when there is none.
func tooDeep(tokens token.Tokens, deepest int) *token.Token {
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
		if depth > deepest || dashes > deepest {
			return t
		}
	}
	return nil
}

func (r *Reader) reportSyntax(err error) {
	at, message := Spot{1, 1}, err.Error()
	var located yaml.Error
	if errors.As(err, &located) {
		at, message = spotOf(located.GetToken()), located.GetMessage() // its Error would copy the file
	}
	r.Report(at, "not YAML: "+strings.ReplaceAll(message, "\t", `\t`), "indent with spaces, and put text with signs in it in quotes, e.g. "+r.Form.Quoted)
}

// document returns the file's one document; an empty file is an empty group.
func (r *Reader) document(file *ast.File) *Node {
	root := &Node{Kind: GroupKind, At: Spot{1, 1}}
	found := false
	for _, doc := range file.Docs {
		switch {
		case doc.Body == nil || doc.Body.Type() == ast.NullType:
		case found:
			r.Report(begin(doc.Body), "a second document begins here", "keep all in one document without ---")
		default:
			root, found = r.node(doc.Body), true
		}
	}
	return root
}

// node frees one value of the parser's types.
func (r *Reader) node(n ast.Node) *Node {
	at := begin(n)
	switch n := n.(type) {
	case *ast.NullNode:
		return &Node{Kind: EmptyKind, At: at}
	case *ast.StringNode:
		return &Node{Kind: TextKind, Text: n.Value, At: at}
	case *ast.LiteralNode:
		return &Node{Kind: TextKind, Text: n.Value.Value, At: at}
	case *ast.IntegerNode, *ast.FloatNode, *ast.InfinityNode, *ast.NanNode:
		return &Node{Kind: NumberKind, Text: n.GetToken().Value, At: at}
	case *ast.BoolNode:
		return &Node{Kind: TruthKind, Text: n.GetToken().Value, At: at}
	case *ast.SequenceNode:
		out := &Node{Kind: ListKind, At: at}
		for _, value := range n.Values {
			out.Items = append(out.Items, r.node(value))
		}
		return out
	case *ast.MappingNode:
		return r.groupNode(n, at)
	}
	r.Report(at, "anchors, aliases, tags and directives are not used here", "write the value itself")
	return &Node{Kind: Spoiled, At: at}
}

func (r *Reader) groupNode(n *ast.MappingNode, at Spot) *Node {
	out := &Node{Kind: GroupKind, At: at}
	first := map[string]Spot{}
	for _, entry := range n.Values {
		name := entry.Key.GetToken()
		at := spotOf(name)
		before, twice := first[name.Value]
		switch {
		case !r.isPlainKey(entry.Key):
			r.Report(at, "this is no plain key", "write e.g. name: value")
		case twice:
			r.Report(at, fmt.Sprintf("key %q is here a second time, first on line %d", name.Value, before.Line), "keep one of them")
		default:
			first[name.Value] = at
			out.Keys = append(out.Keys, Key{name.Value, at, r.node(entry.Value)})
		}
	}
	return out
}

func (r *Reader) isPlainKey(key ast.MapKeyNode) bool {
	switch key.(type) {
	case *ast.StringNode:
		return true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.NullNode:
		return r.Form.OddKeys
	}
	return false
}

// begin is where a value begins. For a group without braces the parser itself gives its first colon.
func begin(n ast.Node) Spot {
	if m, ok := n.(*ast.MappingNode); ok && !m.IsFlowStyle && len(m.Values) > 0 {
		return spotOf(m.Values[0].Key.GetToken())
	}
	return spotOf(n.GetToken())
}

func spotOf(t *token.Token) Spot {
	if t == nil || t.Position == nil {
		return Spot{1, 1}
	}
	return Spot{t.Position.Line, t.Position.Column}
}
