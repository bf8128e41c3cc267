package expression

import "strings"

// split cuts a list of types at the commas that are not within brackets.
func split(list string) []string {
	var parts []string
	depth, from := 0, 0
	for i, c := range list {
		switch {
		case c == '(':
			depth++
		case c == ')':
			depth--
		case c == ',' && depth == 0:
			parts = append(parts, strings.TrimSpace(list[from:i]))
			from = i + 1
		}
	}
	return append(parts, strings.TrimSpace(list[from:]))
}

// between cuts out what stands between two marks; "" where they do not.
func between(text, from, to string) string {
	_, rest, ok := strings.Cut(text, from)
	if !ok {
		return ""
	}
	found, _, _ := strings.Cut(rest, to)
	return found
}

// kindWord says what a type of the language is, to a person.
func kindWord(name string) string {
	if inner, ok := strings.CutPrefix(name, "list("); ok {
		return "a list of " + kindWord(strings.TrimSuffix(inner, ")"))
	}
	switch name {
	case "double":
		return "a number"
	case "int", "uint":
		return "a whole number"
	case "string":
		return "a text"
	case "bool":
		return "true or false"
	case "timestamp", "google.protobuf.Timestamp":
		return "a time"
	case "duration", "google.protobuf.Duration":
		return "a span of time"
	case "null", "null_type":
		return "null"
	case "BikeFacts":
		return "bike"
	case "GroupPlan":
		return "group"
	default:
		return name
	}
}
