//go:build !milp

package proof_test

// draws is how many draws of each kind TestDraws makes: some of those that CI makes.
const draws = 4
