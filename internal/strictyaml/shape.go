package strictyaml

import (
	yaml "go.yaml.in/yaml/v4"
)

// maxDepth is how deep a tree may be. The deepest that any message needs is about eight.
const maxDepth = 32

// shape refuses what YAML has beyond keys, lists and values.
func (r *reader) shape(root *yaml.Node) { r.shapeAt(root, 1) }

func (r *reader) shapeAt(node *yaml.Node, depth int) {
	if depth > maxDepth {
		r.report.loose(node, "too deeply nested", "take out the brackets or indentation that are too many")
		return
	}
	switch {
	case node.Kind == yaml.AliasNode:
		r.report.loose(node, "an alias (*) is not accepted", "write the value out; put text that begins with * in quotes")
		return
	case node.Anchor != "":
		r.report.loose(node, "an anchor (&) is not accepted", "write the value out wherever it is needed; put text that begins with & in quotes")
	case node.Style&yaml.TaggedStyle != 0:
		r.report.loose(node, "a tag (!) is not accepted", "take it out; put text that begins with ! in quotes")
	case node.Tag == "!!merge" && node.Kind == yaml.ScalarNode:
		r.report.loose(node, "a merge key (<<) is not accepted", "write the keys out")
	}
	for _, child := range node.Content {
		r.shapeAt(child, depth+1)
	}
}

// strange tells whether shape has refused the node already.
func strange(node *yaml.Node) bool {
	return node.Kind == yaml.AliasNode || node.Anchor != "" || node.Style&yaml.TaggedStyle != 0 || node.Tag == "!!merge"
}
