package settings

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// maxFileBytes is the most that a settings file may hold: far more than any needs.
const maxFileBytes = 64 << 10

// fileValue is one value of a settings file, as written, with its place.
type fileValue struct{ text, where string }

// readFile reads a settings file strictly. A file that is not there is no error unless it was asked for by name.
func readFile(path string, asked bool, keys []string) (map[string]fileValue, Problems) {
	file, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) && !asked {
		return nil, nil
	}
	if err != nil {
		return nil, Problems{{path, "cannot be read: " + cause(err)}}
	}
	defer file.Close()
	content, err := io.ReadAll(io.LimitReader(file, maxFileBytes+1))
	if err != nil {
		return nil, Problems{{path, "cannot be read: " + cause(err)}}
	}
	return parse(path, content, keys)
}

// parse takes the bytes of a settings file apart: a flat mapping from the keys to plain values.
func parse(path string, content []byte, keys []string) (map[string]fileValue, Problems) {
	if len(content) > maxFileBytes {
		return nil, Problems{{path, fmt.Sprintf("is larger than %d bytes: this is not a settings file", maxFileBytes)}}
	}
	var document yaml.Node
	if err := yaml.Load(content, &document); err != nil {
		return syntax(path, content, err)
	}
	if len(document.Content) != 1 || document.Content[0].Kind != yaml.MappingNode {
		return nil, Problems{{path + ":1:1", "must hold lines of the form key: value, with the keys " +
			strings.Join(keys, ", ")}}
	}
	values := map[string]fileValue{}
	var problems Problems
	pairs := document.Content[0].Content
	for i := 0; i+1 < len(pairs); i += 2 {
		key, value := pairs[i], pairs[i+1]
		where := fmt.Sprintf("%s:%d:%d", path, key.Line, key.Column)
		if what := wrongPair(key, value, keys, values); what != "" {
			problems = append(problems, Problem{where, what})
			continue
		}
		values[key.Value] = fileValue{value.Value, where}
	}
	return values, problems
}

// wrongPair says what is wrong with one line of the file; "" when nothing is. It never repeats a value, for that may be
// a token.
func wrongPair(key, value *yaml.Node, keys []string, seen map[string]fileValue) string {
	switch {
	case key.Kind != yaml.ScalarNode:
		return "the key must be one word"
	case !slices.Contains(keys, key.Value):
		return unknownKey(key.Value, keys)
	case seen[key.Value].where != "":
		return fmt.Sprintf("%s stands here twice, first at %s: take one out", key.Value, seen[key.Value].where)
	case value.Kind != yaml.ScalarNode:
		return fmt.Sprintf("%s must be one plain value, not a list, a mapping or an alias", key.Value)
	case value.Tag == "!!null" || value.Value == "":
		return fmt.Sprintf("%s has no value: give one, or take the line out", key.Value)
	}
	return ""
}

func unknownKey(key string, keys []string) string {
	if len(key) > 40 {
		return "this key is not known; the keys are " + strings.Join(keys, ", ")
	}
	if near := nearest(key, keys); near != "" {
		return fmt.Sprintf("%q is not known; did you mean %q?", key, near)
	}
	return fmt.Sprintf("%q is not known; the keys are %s", key, strings.Join(keys, ", "))
}

// syntax turns an error of the YAML reader into problems. A file without a document is an empty one.
func syntax(path string, content []byte, err error) (map[string]fileValue, Problems) {
	var found []*yaml.LoadError
	var many *yaml.LoadErrors
	var one *yaml.LoadError
	switch {
	case errors.As(err, &many):
		found = many.Errors
	case errors.As(err, &one):
		found = []*yaml.LoadError{one}
	default:
		return nil, Problems{{path, "is not YAML"}}
	}
	if blank(content) {
		return nil, nil
	}
	var problems Problems
	for _, e := range found {
		where := path
		if e.Mark.Line > 0 {
			where = fmt.Sprintf("%s:%d:%d", path, e.Mark.Line, max(e.Mark.Column, 1))
		}
		problems = append(problems, Problem{where, "is not YAML as it must be: " + strings.TrimPrefix(e.Message, "yaml: ")})
	}
	return nil, problems
}

// blank tells whether the file holds nothing but white space and comments.
func blank(content []byte) bool {
	for line := range strings.Lines(string(content)) {
		if text := strings.TrimSpace(line); text != "" && !strings.HasPrefix(text, "#") {
			return false
		}
	}
	return true
}

// cause leaves out the operation and the path of a file error, which the message has already.
func cause(err error) string {
	var pathErr *fs.PathError
	if errors.As(err, &pathErr) {
		return pathErr.Err.Error()
	}
	return err.Error()
}
