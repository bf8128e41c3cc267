// Package season sums the rides of a span of days into a report for the committee. Rides are added one by one, so that no
// more than one of them need be in memory; the report is a message. It knows neither store nor clock.
package season
