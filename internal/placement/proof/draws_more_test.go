//go:build milp

package proof_test

const usualDraws = 48
