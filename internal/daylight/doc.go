// Package daylight cuts a group's timeline into day, twilight and night, says
// for how long it is dark and for how long lights are needed, and how late the
// group may set off.
//
// Dark is decided at every instant for the place where the group then is, by
// the club's [Rule]. The sun is asked seldom: it cannot move faster than the
// Earth turns, so from an altitude well clear of the limit the next question
// is put off for as long as the limit cannot be reached, and where it is
// reached the instant is found by bisection. The cost does not depend on the
// number of points in the route.
//
// The horizon is flat and the sky clear: hills, trees and cloud make it dark
// earlier. Local road law says when lights are compulsory.
//
// Nothing here reads a clock. Times are given in the location of the
// timeline's start.
package daylight
