// Package readiness judges a bike, as its member declared it, by a policy's rules for one group of a ride, and says of
// each rule that applies what it needs, what was declared, and what to do.
//
// Each check has a file of its own (guards.go, lights.go, declaration.go) with one function that judges one rule, and a
// row in table.go. A new check is a new file and a new row.
//
// Nothing here replaces a mechanic's inspection or the law of the road: a rule that is met says that the member's
// declaration meets the club's limit, no more.
package readiness
