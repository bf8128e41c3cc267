package strictyaml

import (
	"bytes"
	"errors"
	"io"
	"strings"

	yaml "go.yaml.in/yaml/v4"
)

// parse reads the one document's tree; nil, with a problem told, where there is not exactly one well-formed document.
func (r *reader) parse(data []byte) *yaml.Node {
	loader, err := yaml.NewLoader(bytes.NewReader(data))
	if err != nil {
		r.syntax(err)
		return nil
	}
	var first, second yaml.Node
	if err := loader.Load(&first); err != nil || len(first.Content) == 0 {
		r.syntax(err)
		return nil
	}
	switch err := loader.Load(&second); {
	case errors.Is(err, io.EOF):
	case err != nil:
		r.syntax(err)
		return nil
	default:
		at := &second
		if len(second.Content) > 0 {
			at = second.Content[0]
		}
		r.report.node(at, "", "a second document begins before this", "a file holds one; take out the line --- and what does not belong here")
		return nil
	}
	return first.Content[0]
}

// syntax tells an error of the YAML parser in words for a person.
func (r *reader) syntax(err error) {
	var load *yaml.LoadError
	if err == nil || errors.Is(err, io.EOF) {
		r.report.at(1, 1, "", "the file is empty", "begin with what  gritward "+r.opts.What+" example  prints")
		return
	}
	if !errors.As(err, &load) {
		r.report.at(1, 1, "", "the file cannot be read: "+err.Error(), "")
		return
	}
	mark := load.Mark
	for _, known := range knownSyntax() {
		if !strings.Contains(load.ContextMsg+": "+load.Message, known.says) {
			continue
		}
		if known.atContext && load.ContextMark.Line > 0 {
			mark = load.ContextMark
		}
		r.report.at(mark.Line, max(mark.Column, 1), "", known.message, known.hint)
		return
	}
	r.report.at(max(mark.Line, 1), max(mark.Column, 1), "", "not well-formed: "+load.Message, "check indentation, colons, quotes and brackets here and on the line before")
}

// syntaxWords is what to say for one kind of error of the parser.
type syntaxWords struct {
	says      string // part of the parser's words
	atContext bool   // the place is where the faulty construct began
	message   string
	hint      string
}

// knownSyntax lists the errors that people make.
func knownSyntax() []syntaxWords {
	const backslash = `write \\ twice, or put the text in single quotes`
	const quote = `put text in quotes that begins with one of @ % * & ! > | [ ] { } or has ": " in it`
	return []syntaxWords{
		{"mapping values are not allowed", false, "a colon where none can stand", "check the indentation, and that the line above has a colon with a space after it; " + quote},
		{"hexadecimal number", false, "a backslash in double quotes, and no escape after it that is known", backslash},
		{"unknown escape character", false, "a backslash in double quotes, and no escape after it that is known", backslash},
		{"incompatible YAML document", false, "a line %YAML is not accepted", "take the line out"},
		{"duplicate %YAML", false, "a line %YAML is not accepted", "take the line out"},
		{"alphabetic or numeric character", false, "an alias (*) or anchor (&) is not accepted", quote + "; begin a comment with #"},
		{"expected <document start>", false, "this line does not belong to what stands above it", "a file is keys with their values: begin each key at the start of its line, and write key: value"},
		{"flow sequence: did not find", true, "a list begins here with [ and is not closed properly", "write [one, two]"},
		{"flow mapping: did not find", true, "a group of keys begins here with { and is not closed properly", "write {key: value, key: value}"},
		{"found unexpected end of stream", true, "text in quotes begins here and is not closed", "write the closing quote"},
		{"cannot start any token", false, "a value cannot begin with this character", quote},
		{"unknown anchor", false, "an alias (*) is not accepted", quote},
		{"block mapping: did not find expected key", false, "this line does not fit the lines above", "give keys that belong together the same indentation"},
		{"block collection: did not find", false, "this line does not fit the list above", "give the hyphens of one list, and keys that belong together, the same indentation"},
		{"did not find expected node content", false, "a value or a closing bracket is missing here", "close each [ with ] and each { with }"},
		{"could not find expected ':'", true, "a key without a colon", "write key: value"},
		{"exceeded max depth", false, "too deeply nested", "take out the brackets that are too many"},
	}
}
