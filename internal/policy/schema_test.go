package policy_test

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	yaml "go.yaml.in/yaml/v4"

	"gritward/internal/policy"
	policyfile "gritward/policy"
)

// published is the schema beside the shipped policy, compiled by a JSON Schema validator that is not of this project and
// that passes the JSON Schema Test Suite.
func published(t testing.TB) *jsonschema.Schema {
	t.Helper()
	text, err := os.ReadFile("../../policy/policy.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	document, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	compiler := jsonschema.NewCompiler()
	if err := compiler.AddResource("policy.schema.json", document); err != nil {
		t.Fatal(err)
	}
	schema, err := compiler.Compile("policy.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	return schema
}

// bySchema says what the schema has against a file; nil: nothing. A file that is no YAML, or whose value JSON cannot
// hold, has failed before.
func bySchema(schema *jsonschema.Schema, data []byte) error {
	var value any
	if err := yaml.Unmarshal(data, &value); err != nil {
		return err
	}
	value, err := asJSON(value)
	if err != nil {
		return err
	}
	return schema.Validate(value)
}

// asJSON turns what YAML gave into what JSON can hold.
func asJSON(value any) (any, error) {
	switch value := value.(type) {
	case map[string]any:
		for key, inner := range value {
			converted, err := asJSON(inner)
			if err != nil {
				return nil, err
			}
			value[key] = converted
		}
	case []any:
		for i, inner := range value {
			converted, err := asJSON(inner)
			if err != nil {
				return nil, err
			}
			value[i] = converted
		}
	case float64:
		if math.IsInf(value, 0) || math.IsNaN(value) {
			return nil, fmt.Errorf("JSON has no %v", value)
		}
	case nil, string, bool, int, int64, uint64:
	default:
		return nil, fmt.Errorf("JSON has no %T", value)
	}
	return value, nil
}

// TestSchemaAgrees holds the published schema against the reader with every file in testdata/policy: what the reader
// takes is valid, and what it refuses is not, but for what beyondSchema lists; and that is listed with reason.
func TestSchemaAgrees(t *testing.T) {
	schema := published(t)
	files, err := filepath.Glob(filepath.Join(casesDir, "*.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	refused := 0
	for _, file := range files {
		name := strings.TrimSuffix(filepath.Base(file), ".yaml")
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		p, _ := policy.Read(name, data)
		invalid := bySchema(schema, data)
		switch listed := beyond(strings.TrimPrefix(name, "busted_"), invalid == nil, used); {
		case p != nil && invalid != nil:
			t.Errorf("%s: the reader takes it, the schema does not: %v", name, invalid)
		case p == nil && invalid == nil && !listed:
			t.Errorf("%s: the schema takes it, the reader does not", name)
		case p == nil && invalid != nil:
			refused++
		}
	}
	t.Logf("%d files are refused by both", refused)
	for reason, patterns := range beyondSchema {
		for _, pattern := range patterns {
			if !used[pattern] {
				t.Errorf("no file that the schema takes is a %s: %s", pattern, reason)
			}
		}
	}
	if err := bySchema(schema, policyfile.Winter); err != nil {
		t.Errorf("winter.yaml: %v", err)
	}
}

// beyond tells whether a file is listed in beyondSchema, and marks the patterns that list a file which the schema takes.
func beyond(name string, taken bool, used map[string]bool) bool {
	listed := false
	for _, patterns := range beyondSchema {
		for _, pattern := range patterns {
			if ok, _ := filepath.Match(pattern, name); ok {
				listed = true
				used[pattern] = used[pattern] || taken
			}
		}
	}
	return listed
}

// FuzzSchema: what the reader takes is valid under the schema, whatever the file.
func FuzzSchema(f *testing.F) {
	schema := published(f)
	f.Add(policyfile.Winter)
	for _, name := range []string{"good_small", "good_quoted", "good_spaces_before_units", "good_single_words_as_lists", "warned_no_reserve"} {
		data, err := os.ReadFile(filepath.Join(casesDir, name+".yaml"))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		p, _ := policy.Read("p.yaml", data)
		if p == nil || bytes.ContainsAny(data, "|>") { // text in a block ends with an empty line, which the reader cuts
			return
		}
		if err := bySchema(schema, data); err != nil {
			t.Fatalf("%s\n%v", data, err)
		}
	})
}
