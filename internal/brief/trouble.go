package brief

import (
	"slices"

	"gritward/internal/phrase"
)

// trouble is what to do when something goes wrong: common practice of clubs, no single source, except for the number.
func (t *teller) trouble() *section {
	s := &section{id: "trouble", title: "If it goes wrong"}
	s.say("Make the scene safe: everybody off the road, somebody well up the road each way to warn the traffic.")
	s.say("Do not move anybody who is hurt, unless it is dangerous to leave them there. Keep them warm.")
	// 112 is the European emergency number: Directive (EU) 2018/1972, article 109 (from memory). It is answered in the
	// United Kingdom beside 999. Elsewhere it may not be, hence the local number.
	s.say("Ring 112, or your local number. 112 works across Europe and in the United Kingdom.")
	s.say("Say where you are, by grid reference or latitude and longitude from a telephone, how many are hurt, and what happened. Send somebody to meet the ambulance.")
	s.say("%s The leader tells the emergency contacts.", phrase.FirstOf(phrase.Between("Tell the ride leader: ", t.leader(), "."), "Tell your group's leader."))
	s.say("The rest keep together, off the road and warm. The leader then decides how the ride goes on.")
	s.say("Something breaks or you cannot hold the pace: call it. The back marker stops with you; nobody is left alone.")
	s.say("Tell your leader before you leave the ride, and let the leader know when you are home.")
	s.say("There is a roll call at the start, after stops and at the end. Nobody is left unaccounted for.")
	return s
}

// cautions are the bounds of all that was said before.
func (t *teller) cautions() *section {
	s := &section{id: "cautions", title: "Cautions"}
	s.say("Local road law and official weather warnings come before anything on this sheet.")
	s.say("The leader on the road decides, and may turn back or stop the ride at any time.")
	s.say("Each rider certified the bike. That does not replace a mechanic's inspection.")
	s.say("Times are reckoned, not promised: wind, repairs and traffic change them.")
	s.say("Sun times are for a flat horizon and a clear view.")
	notes := slices.Concat(t.r.GetRide().GetRoute().GetNotes(), t.r.GetPlan().GetNotes())
	for i, note := range notes { // a plan takes over the notes of its route
		if !slices.Contains(notes[:i], note) {
			s.say("Taken for granted: %s", phrase.Stopped(note))
		}
	}
	return s
}
