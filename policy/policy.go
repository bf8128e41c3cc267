// Package policyfile holds the policy file that a new club begins with.
package policyfile

import _ "embed" // for the file

// Winter is policy/winter.yaml. It is UTF-8, complete, and commented for a secretary. Do not change its bytes.
//
//go:embed winter.yaml
var Winter []byte
