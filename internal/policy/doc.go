// Package policy reads a club's policy file into an immutable value: the rules for package readiness, what counts as
// season and as dark, the sizes of groups, and the limits at which a ride is called off.
//
// Reading is strict. Everything wrong with a file is told at once, each with its place, and a file with an error gives
// no policy. What is only doubtful is a warning.
package policy
