package strictyaml

import (
	"regexp"
	"strconv"
	"strings"
	"sync"

	yaml "go.yaml.in/yaml/v4"
	"google.golang.org/protobuf/proto"
)

// Leaf is one value of a message as a file writes it: its path in the file's keys, "dark.margin", and its text, "30m". A
// list is one value, "[dark, wet]", or its entry where it has only one.
type Leaf struct{ Path, Text string }

// Leaves lists the values of a message in the order of the fields; those not set have none. The errors are those of
// Encode.
func Leaves(m proto.Message, opts Options) ([]Leaf, error) {
	root, err := encodeMessage(m.ProtoReflect(), opts)
	if err != nil {
		return nil, err
	}
	return leavesOf(nil, root, ""), nil
}

func leavesOf(leaves []Leaf, node *yaml.Node, path string) []Leaf {
	switch node.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(node.Content); i += 2 {
			leaves = leavesOf(leaves, node.Content[i+1], join(path, node.Content[i].Value))
		}
		return leaves
	case yaml.ScalarNode:
		return append(leaves, Leaf{path, node.Value})
	default:
		return append(leaves, Leaf{path, inline(node)})
	}
}

// Inline writes a message on one line as Decode reads it: {id: guards, when: [dark, wet]}. The errors are those of
// Encode.
func Inline(m proto.Message, opts Options) (string, error) {
	root, err := encodeMessage(m.ProtoReflect(), opts)
	if err != nil {
		return "", err
	}
	return inline(root), nil
}

func inline(node *yaml.Node) string {
	var parts []string
	switch node.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(node.Content); i += 2 {
			parts = append(parts, node.Content[i].Value+": "+inline(node.Content[i+1]))
		}
		return "{" + strings.Join(parts, ", ") + "}"
	case yaml.SequenceNode:
		for _, child := range node.Content {
			parts = append(parts, inline(child))
		}
		if len(parts) == 1 && node.Content[0].Kind == yaml.ScalarNode {
			return parts[0]
		}
		return "[" + strings.Join(parts, ", ") + "]"
	default:
		if node.Tag == "!!str" && !plainText().MatchString(node.Value) {
			return quote(node.Value)
		}
		return node.Value
	}
}

// plainText is text that needs no quotes inside brackets. Words that YAML reads as something else are text all the same
// where a text is asked for.
var plainText = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`^-?[A-Za-z0-9]([A-Za-z0-9 ./%_-]*[A-Za-z0-9./%_-])?$`)
})

// quote writes text in double quotes as YAML reads it, with escapes for what would break the line.
func quote(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, c := range text {
		switch {
		case c == '"' || c == '\\':
			b.WriteByte('\\')
			b.WriteRune(c)
		case c == '\n':
			b.WriteString(`\n`)
		case refused(c) != "" || !strconv.IsPrint(c):
			b.WriteString(`\U` + strings.Repeat("0", 8-len(strconv.FormatInt(int64(c), 16))) + strconv.FormatInt(int64(c), 16))
		default:
			b.WriteRune(c)
		}
	}
	b.WriteByte('"')
	return b.String()
}
