package brief

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// strongGustKmh is the gust from which the wind is what a group is told of first, where nothing worse is: a strong breeze, 7
// of the Beaufort scale, begins at 50 km/h of mean wind (WMO, Manual on Codes, table 1100, from memory).
const strongGustKmh = 50

// spoken is what each group's leader says aloud: nothing for a ride that does not take place.
func (t *teller) spoken() []*pb.SpokenBrief {
	if t.isCalledOff() {
		return nil
	}
	var out []*pb.SpokenBrief
	for _, g := range t.groups {
		out = append(out, &pb.SpokenBrief{Group: g.GetGroup(), Sentences: []string{
			t.sayWho(g), t.sayRoute(g), t.sayLight(g), t.sayHazard(g), t.sayTrouble(g),
		}})
	}
	return out
}

// sayWho tells who leads, who marks the back, and how we ride.
func (t *teller) sayWho(g group) string {
	how := "two abreast until single file is called"
	switch {
	case t.r.GetRide().GetSingleFile():
		how = "in single file all the way"
	case narrow(g.plan):
		how = "in single file wherever it is icy or we see little"
	}
	leads, marks := aloud(t.named(g.GetLeader())), aloud(t.named(g.GetBackMarker()))
	switch {
	case leads != "" && marks != "":
		return fmt.Sprintf("%s leads and %s marks the back: stay between the two, %s.", leads, marks, how)
	case leads != "":
		return fmt.Sprintf("%s leads, and who marks the back we settle now: stay between the two, %s.", leads, how)
	case marks != "":
		return fmt.Sprintf("Who leads we settle now, and %s marks the back: stay between the two, %s.", marks, how)
	}
	return fmt.Sprintf("Who leads and who marks the back we settle now: stay between the two, %s.", how)
}

// narrow tells whether ice or poor sight ask for single file on some of the way: a rider who falls takes down the one beside, and a driver
// sees the group late. Common practice, no source.
func narrow(p *pb.GroupPlan) bool { return iceWord(p) != "" || has(p, pb.Circumstance_POOR_VISIBILITY) }

// named is a member's name, empty for nobody.
func (t *teller) named(member string) string {
	if member == "" {
		return ""
	}
	return t.person(member)
}

// sayRoute tells how far we ride, where we stop, and when we are home.
func (t *teller) sayRoute(g group) string {
	long := "today's route"
	if m := t.r.GetRide().GetRoute().GetDistanceM(); m > 0 {
		long = phrase.Km(m)
	}
	said := "We ride " + long
	if stops := t.r.GetRide().GetStops(); len(stops) > 0 {
		first := stops[0]
		for _, stop := range stops { // they may be told in any order
			if stop.GetAtDistanceM() < first.GetAtDistanceM() {
				first = stop
			}
		}
		said += ", stop at " + phrase.FirstOf(aloud(first.GetTitle()), "a place on the way")
		if at := phrase.StopAt(g.plan, first); at != nil {
			said += " about " + t.clock(at.GetAt())
		}
		switch more := len(stops) - 1; more {
		case 0:
		case 1:
			said += " and once more"
		default:
			said += fmt.Sprintf(" and %d times more", more)
		}
	}
	if !g.plan.GetHomeAt().IsValid() {
		return said + ", and nobody knows yet when we are home."
	}
	return said + ", and are home about " + t.clock(g.plan.GetHomeAt()) + "."
}

// sayLight tells the weather at the start, and when lights are lit.
func (t *teller) sayLight(g group) string {
	said := "No weather is known"
	var w *pb.Weather
	if spells := t.r.GetPlan().GetWeather(); len(spells) > 0 {
		w = spells[0].GetWeather()
	}
	if w != nil && w.TemperatureC != nil {
		said = "It is " + phrase.Degrees(w.GetTemperatureC())
		if feels := g.plan.GetFeelsLikeMinC(); g.plan != nil && g.plan.FeelsLikeMinC != nil && math.Round(feels) < math.Round(w.GetTemperatureC()) {
			said += " and feels like " + phrase.Degrees(feels) + " at worst"
		}
		if w.GetWet() {
			said += ", on a wet road"
		}
	}
	lit := phrase.LitTimes(g.plan)
	switch {
	case !g.plan.GetHomeAt().IsValid():
		return said + ", and the light is not reckoned: take lamps."
	case g.plan.GetLitMin() <= 0:
		if set := t.r.GetPlan().GetSunsetAt(); set.IsValid() {
			return said + "; the sun sets at " + t.clock(set) + ", and on time we need no lights."
		}
		return said + ", and on time we need no lights."
	case len(lit) != 1 || lit[0].AtStart && lit[0].UntilIn:
		return said + ", and lights are lit " + t.litTimes(g.plan) + "."
	case lit[0].AtStart:
		return said + ", and lights are lit now, until " + t.clock(lit[0].To) + "."
	}
	return said + ", and lights are lit " + t.litTimes(g.plan) + "."
}

// sayHazard tells what matters most on the road that day, and how to ride by it. What may stop the ride comes first, then
// what the whole way is under, then a place.
func (t *teller) sayHazard(g group) string {
	const apart = "leave a metre or more to the wheel in front"
	p := g.plan
	met := t.r.GetPlan().GetCallOff()
	switch {
	case len(met) > 0:
		return fmt.Sprintf("%s: %s, and whoever would rather not start says so now.", pastLimits(p, met), apart)
	case iceWord(p) != "":
		return "Ice is " + iceWord(p) + ", first on bridges and in shade: " + apart + ", brake early and upright, and walk where in doubt."
	case has(p, pb.Circumstance_POOR_VISIBILITY):
		return "We see little: lights on, " + apart + ", and no faster than we can stop within what we see."
	case p.GetDarkMin() > 0:
		return "We ride " + phrase.AtLeast(phrase.DarkMin(p)) + " in the dark: " + apart + ", hold a steady line, and look back for the rider behind."
	case p.GetGustMaxKmh() >= strongGustKmh:
		return "Gusts reach " + phrase.Number(p.GetGustMaxKmh(), 0) + " km/h: " + apart + ", hands on the bar, and room at gaps in hedge and wall."
	}
	if hazards := byDistance(t.r.GetRide().GetHazards()); len(hazards) > 0 {
		first := ""
		if len(hazards) > 1 {
			first = fmt.Sprintf(", the first of %d hazards", len(hazards))
		}
		return fmt.Sprintf("Watch out at %s, %s%s: %s, and call what you see.",
			phrase.Km(hazards[0].GetAtDistanceM()), lowerFirst(phrase.FirstOf(aloud(hazards[0].GetWhat()), "a hazard")), first, apart)
	}
	if has(p, pb.Circumstance_WET) {
		return "The road is wet: " + apart + ", brake sooner, and lean less on paint, leaves and iron."
	}
	return "No hazard is noted, which does not mean there is none: " + apart + ", and point out and call what you see."
}

// pastLimits names all that is past the club's limits, ice first: that one is not seen from the saddle.
func pastLimits(p *pb.GroupPlan, met []string) string {
	isIce := func(words string) bool { return strings.HasPrefix(words, "Ice ") }
	var past []string
	for _, limit := range met {
		if words := aloud(limit); isIce(words) {
			past = slices.Insert(past, 0, words)
		} else if words != "" {
			past = append(past, words)
		}
	}
	before := ""
	if risk := iceWord(p); risk != "" && !slices.ContainsFunc(past, isIce) {
		before = "Ice is " + risk + ", and "
	}
	if len(past) == 0 {
		past = []string{"The weather"}
	}
	for i := range past {
		if i > 0 || before != "" {
			past[i] = lowerFirst(past[i])
		}
	}
	if len(past) == 1 {
		return before + past[0] + ", past the club's limit"
	}
	return before + phrase.List(past) + ", past the club's limits"
}

// iceWord is how much ice there may be on a group's way; "": none is reckoned with.
func iceWord(p *pb.GroupPlan) string {
	switch {
	case p.GetIce() == pb.CallOff_LIKELY:
		return "likely"
	case p.GetIce() == pb.CallOff_POSSIBLE || has(p, pb.Circumstance_ICE):
		return "possible"
	}
	return ""
}

// sayTrouble tells what to do when something goes wrong: common practice, no source; 112 as in the brief.
func (t *teller) sayTrouble(g group) string {
	leader := phrase.FirstOf(aloud(t.named(g.GetLeader())), "the leader")
	return "Tell " + leader + " before you turn back or leave us; when something breaks, call it and we all stop; when somebody is hurt, ring 112."
}

func has(p *pb.GroupPlan, c pb.Circumstance) bool {
	return slices.Contains(p.GetCircumstances(), c)
}

// aloud is the beginning of what people wrote, as a part of one sentence that can be said in one breath: up to where their
// first sentence ends, and not more than fourteen words. All of it stands in the brief.
func aloud(s string) string {
	const most = 14
	for _, end := range []string{". ", "! ", "? ", "; ", ": ", "\n"} {
		s, _, _ = strings.Cut(s, end)
	}
	words := strings.Fields(s)
	return strings.TrimRight(strings.Join(words[:min(len(words), most)], " "), ".!?;:, ")
}

// lowerFirst begins s in lower case where its first word is one in sentence case, not a name in capitals.
func lowerFirst(s string) string {
	if len(s) > 1 && s[0] >= 'A' && s[0] <= 'Z' && s[1] >= 'a' && s[1] <= 'z' {
		return string(s[0]+'a'-'A') + s[1:]
	}
	return s
}
