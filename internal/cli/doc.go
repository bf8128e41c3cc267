// Package cli is the client: the commands that a club's members, ride leaders and secretary type. Each command is one
// or two calls to the server, or, for "route", "sun", "outlook", "policy check" and "bike example", none. What it prints is
// for people, or with --json the protocol's own message.
//
// A newcomer finds a command in the file of its name (ride_join.go), the way to the server in session.go and connect.go,
// what is said about a refusal in explain.go and hints.go, which flag gives which field of a request in fields.go, and how
// things are laid out in page.go and wrap.go.
package cli
