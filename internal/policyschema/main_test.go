package main

import (
	"bytes"
	"os"
	"testing"
)

// TestSchemaIsCurrent: the schema beside the shipped policy is the one that this code makes.
func TestSchemaIsCurrent(t *testing.T) {
	want, err := build("../../proto")
	if err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile("../../policy/policy.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("policy/policy.schema.json is not what the code makes: run go generate ./proto/...")
	}
}
