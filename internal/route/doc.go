// Package route reads a GPX file (1.0 or 1.1) and measures its line: distance
// on the WGS84 ellipsoid, ascent, climbs, bounds and shape.
//
// [Read] takes a file, [New] coordinates that were read before; both measure
// in the same way. What had to be assumed is said in [Route.Notes], in words
// for the person who brought the file. What would falsify the times of a ride
// (a point without a place, a file cut short) is refused instead, by an
// [Error] with its line and column.
//
// Formats: GPX 1.1 schema, http://www.topografix.com/GPX/1/1/gpx.xsd, and
// GPX 1.0. Extensions are passed over, recorded times are not used.
package route
