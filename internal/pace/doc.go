// Package pace works out where a group is, and when: its timeline along a
// measured line.
//
// A group's pace is its steady speed on a flat road in still air, in air of
// the density in [Params]. From it follows the power of its average rider, by
// the road-cycling power balance of Martin, Milliken, Cobb, McFadden, Coggan,
// Validation of a Mathematical Model for Road Cycling Power, Journal of
// Applied Biomechanics 14 (1998) 276-291. That power is held all the way,
// with [Params.ClimbReserveW] more uphill; the speed of each stretch solves
// the same balance for the stretch's gradient, wind and air density, and is
// capped downhill.
//
// Not modelled, and so to be told to people who rely on the times: starting,
// braking and gathering speed (the balance is taken as steady on each
// stretch), junctions and traffic, punctures, side wind, tiring. Real groups
// are later more often than earlier. What they were later by on past rides,
// [Refine] brings in.
package pace
