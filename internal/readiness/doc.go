// Package readiness judges a bike by a policy's rules for one group of a ride, and says of each rule that applies what it
// needs, what was declared, and what to do.
//
//   - The facts are those that the member certified, overridden by later entries of the care log; what they leave out,
//     earlier entries fill in: effective.go, override.go, fillin.go.
//   - Each check has a file of its own (guards.go, lights.go, chain.go, ...) and a row in table.go. Most checks are lists of
//     limits, each of which knows how to look, what to say, and how it is mended: section.go, limits.go. A new check is a
//     new file and a new row.
//   - Remedies for one bike that cover each other are settled over all rules: remedy.go, by the work named in jobs.go.
//   - Assess tells every finding; Standing only what they add up to, faster, by quick.go; Lifts what would better it: lift.go.
//
// Nothing here replaces a mechanic's inspection or the law of the road: a rule that is met says that the member's
// declaration meets the club's limit, no more.
package readiness
