package readiness

import (
	"math"

	pb "gritward/proto/gritward/v1"
)

// Asks says what a rule asks of any bike in any group, in the words in which findings say it of one: "2 rear lamps". The book
// is that of the rule's policy.
func (r Rule) Asks(book Book) string {
	f := r.ready().form
	switch {
	case r.GetCheck() == pb.Check_DECLARATION && f.needed == "":
		return declarationNeeded(book.DeclarationValid)
	case timed(f.lamps):
		text := f.needed + f.before + " for as long as the group needs lights"
		if reserve := math.Ceil(book.Lamp.GetReserve().AsDuration().Minutes()); reserve > 0 {
			text += " and " + atLeastMin(reserve) + " more"
		}
		return text
	case len(f.lamps) > 0 && r.GetLights().GetAnyRuntime():
		return f.needed + f.before + " whatever their run-time"
	}
	return f.needed
}
