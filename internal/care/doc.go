// Package care lists what is due on a bike: what the club's policy asks for and does not find, what it will not find any
// more on a day to come, and how far chain and pads will go until the limits that the policy sets.
//
// It has no rules of its own. What is not met today comes from judging the bike today (readiness.Assess); when something
// falls due comes from judging it on days to come and looking for the first on which a rule that is met is not met any
// more; the limit of a part comes from judging the bike with the part worn more and more.
//
//	due.go         the list
//	asks.go        a rule taken apart into what it asks
//	days.go        judging on other days
//	log.go         the care log, and the readings in it
//	rides.go       kilometres
//	wears.go       the parts whose wear is projected, and their limits
//	projection.go  the projection, as an item of the list
//	words.go       texts
//
// A list of what is due does not replace a look at the bike before each ride, or a mechanic's.
package care
