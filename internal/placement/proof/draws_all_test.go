//go:build milp

package proof_test

// draws is how many draws of each kind TestDraws makes: 432 in all.
const draws = 144
