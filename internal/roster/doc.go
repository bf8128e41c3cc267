// Package roster runs the whole flow for a ride: route and pace to a timeline, timeline and policy to light and
// circumstances, declarations to standings, standings to a placement, placement to a published issue with its brief.
// It is the one place where plain values of the calculators and messages of the protocol meet. Everything in it is a
// pure function; the time is passed in.
package roster
