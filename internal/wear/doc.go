// Package wear projects how far a part of a bike will go until it is worn to its limit, from a few readings of it that
// people took by hand: a chain's lengthening, %, which rises, or the material left on a brake pad, mm, which falls.
//
// It takes wear to be even: so much for each kilometre on a dry road, so much for each on a wet one. It holds out
// against two readings of seven or more that are wrong by any amount, gives a range and not only a figure, and says that
// there are not enough readings sooner than guess. It measures nothing itself: a part that is at its limit by a gauge is
// at its limit, whatever is projected here.
//
//	slope.go    the slope of a line through readings, some of them wrong, with its interval
//	ranks.go    how often chance orders readings so badly: the width of that interval
//	wetdry.go   wear on wet and on dry roads told apart
//	project.go  readings to distance
//
// Sources. Theil, A rank-invariant method of linear and polynomial regression analysis, Proc. Kon. Ned. Akad. v.
// Wetensch. A 53 (1950): the median of the slopes between pairs. Sen, Estimates of the regression coefficient based on
// Kendall's tau, J. Am. Stat. Assoc. 63 (1968) 1379-1389: its interval. Siegel, Robust regression using repeated
// medians, Biometrika 69 (1982) 242-244. Hawkins and Olive 1999 for wet and dry: see wetdry.go.
package wear
