package strictyaml

import (
	"bytes"
	"encoding/json"
	"fmt"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// Schema writes a JSON Schema (draft 2020-12) of the files that Decode reads into a message, for editors that complete
// and check them. describe gives what is known of a message, a field or an enum's value; empty: nothing. patterns give,
// by the full name of a field, what text it takes.
//
// It is a sieve, not a second reader: what JSON Schema cannot say is left to Decode. Every file without problems is valid
// under it, but for text that ends with an empty line.
func Schema(message protoreflect.MessageDescriptor, opts Options, describe func(protoreflect.Descriptor) string, patterns map[protoreflect.FullName]string) ([]byte, error) {
	w := &schemaWriter{opts: opts, describe: describe, patterns: patterns, defs: &members{}, seen: map[protoreflect.FullName]bool{}}
	root := w.message(message)
	root.Schema = "https://json-schema.org/draft/2020-12/schema"
	root.Title = "A " + opts.What + " file"
	root.Defs = w.defs
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	if err := encoder.Encode(root); err != nil {
		return nil, fmt.Errorf("writing the schema: %w", err)
	}
	return out.Bytes(), nil
}

// schema is the part of JSON Schema that is used, in the order in which it is written.
type schema struct {
	Schema               string    `json:"$schema,omitempty"`
	Ref                  string    `json:"$ref,omitempty"`
	Title                string    `json:"title,omitempty"`
	Description          string    `json:"description,omitempty"`
	Type                 any       `json:"type,omitempty"`
	Const                string    `json:"const,omitempty"`
	Enum                 []string  `json:"enum,omitempty"`
	Pattern              string    `json:"pattern,omitempty"`
	MinLength            uint64    `json:"minLength,omitempty"`
	MaxLength            uint64    `json:"maxLength,omitempty"`
	Minimum              *float64  `json:"minimum,omitempty"`
	ExclusiveMinimum     *float64  `json:"exclusiveMinimum,omitempty"`
	Maximum              *float64  `json:"maximum,omitempty"`
	ExclusiveMaximum     *float64  `json:"exclusiveMaximum,omitempty"`
	Items                *schema   `json:"items,omitempty"`
	MinItems             uint64    `json:"minItems,omitempty"`
	MaxItems             uint64    `json:"maxItems,omitempty"`
	UniqueItems          bool      `json:"uniqueItems,omitempty"`
	MinProperties        int       `json:"minProperties,omitempty"`
	Properties           *members  `json:"properties,omitempty"`
	Required             []string  `json:"required,omitempty"`
	AdditionalProperties *bool     `json:"additionalProperties,omitempty"`
	AnyOf                []*schema `json:"anyOf,omitempty"`
	AllOf                []*schema `json:"allOf,omitempty"`
	If                   *schema   `json:"if,omitempty"`
	Then                 *schema   `json:"then,omitempty"`
	Defs                 *members  `json:"$defs,omitempty"`
}

// members are named schemas in order.
type members struct {
	names   []string
	schemas []*schema
}

func (m *members) add(name string, s *schema) {
	m.names, m.schemas = append(m.names, name), append(m.schemas, s)
}

// MarshalJSON writes an object whose keys keep their order.
func (m *members) MarshalJSON() ([]byte, error) {
	var out bytes.Buffer
	encoder := json.NewEncoder(&out)
	encoder.SetEscapeHTML(false)
	out.WriteByte('{')
	for i, name := range m.names {
		if i > 0 {
			out.WriteByte(',')
		}
		key, err := json.Marshal(name)
		if err != nil {
			return nil, err
		}
		out.Write(key)
		out.WriteByte(':')
		if err := encoder.Encode(m.schemas[i]); err != nil {
			return nil, err
		}
	}
	out.WriteByte('}')
	return out.Bytes(), nil
}
