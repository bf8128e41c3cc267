// Package forecast reads a point forecast in the open "compact" JSON format of a national weather service: a GeoJSON
// feature (RFC 7946) with one point, and a time series of weather at that point.
//
// The format is described by the Norwegian Meteorological Institute in "General point forecast JSON format"
// (api.met.no/doc/ForecastJSON) and "Locationforecast data model" (api.met.no/doc/locationforecast/datamodel): values at
// an instant stand under "instant", amounts over a period under "next_1_hours" and "next_6_hours", each in the unit that
// "meta.units" gives; times are UTC and increase; steps are one hour at first and six hours later; the last instant has
// no period after it.
//
// The package knows no clock, no network and no protocol. Whether a forecast is fresh enough is for the caller to say.
package forecast
