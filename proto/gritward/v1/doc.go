// Package gritwardv1 is the language of gritward: what clients and the server say to each other, and what is stored.
// The .proto files beside this one are its source; each method and field says its unit, range and meaning there.
package gritwardv1

//go:generate go run gritward/internal/protogen -root ../..
//go:generate go run gritward/internal/policyschema -root ../.. -out ../../../policy/policy.schema.json
