// Package weather judges the conditions of a ride: what the air feels like,
// how moist and dense it is, whether the road may be icy, how far one sees,
// how hard it blows, and which of the club's limits are passed.
//
// It is a caution, not a forecast: it restates the figures it is given by
// stated formulas and tables. The official weather warning and the leader on
// the road come first.
//
// Units: degrees Celsius, km/h, hPa, metres, percent relative humidity. Where
// a figure is unknown it is NaN, and functions answer NaN to input for which
// their formula is not defined.
package weather
