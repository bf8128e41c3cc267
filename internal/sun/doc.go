// Package sun says where the sun is, and when it rises, sets and leaves civil
// twilight, for any place and day.
//
// The model is the low-precision solar theory of Meeus, Astronomical
// Algorithms (2nd ed.), chapter 25, with five planetary perturbation terms,
// nutation, aberration and the parallax of an observer on the ground. Its
// measured error against an independent ephemeris stands in
// testdata/sun/README.md.
//
// Altitudes are of the sun's centre, topocentric, WITHOUT refraction, above a
// flat sea-level horizon: hills, trees, buildings and cloud end daylight
// earlier than any time given here.
//
// UT1 is taken as UTC (they differ by less than 0.9 s, 0.004 deg of hour
// angle) and terrestrial time as UTC + 69.2 s. The years 1900 to 2100 are
// supported; [On] refuses others.
//
// Nothing here reads a clock.
package sun
