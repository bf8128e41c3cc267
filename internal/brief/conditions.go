package brief

import (
	"math"
	"strings"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// frostnipFeelsLikeC is the feels-like temperature from which bare skin can freeze in a prolonged time outside:
// Environment Canada's wind chill chart of 2001, lower mark.
const frostnipFeelsLikeC = -27

func (t *teller) conditions() *section {
	s := &section{id: "conditions", title: "Weather and road"}
	t.callOff(s)
	if t.holds(pb.Circumstance_ICE) {
		s.alert("%s", t.ice())
	}
	if t.holds(pb.Circumstance_POOR_VISIBILITY) {
		// Highway Code (United Kingdom) 226 and 235: lights in seriously reduced visibility; able to stop well within the
		// distance seen to be clear.
		s.alert("Visibility is poor: lights lit, and a speed at which we can stop within what we see.")
	}
	for i, spell := range t.r.GetPlan().GetWeather() {
		words := weatherWords(spell.GetWeather())
		switch {
		case words == "":
		case i == 0:
			s.say("At the start: %s.", words)
		default:
			s.say("From %s: %s.", t.clock(spell.GetFromAt()), words)
		}
	}
	if len(s.lines) == 0 {
		s.say("No weather has been entered: look at the forecast and the warnings before we start.")
	}
	t.worst(s)
	if t.holds(pb.Circumstance_ICE) { // common practice, no source
		s.say("Bridges, shade and hollows have ice first. Ease off before them, brake early and upright, walk where in doubt.")
	}
	if t.holds(pb.Circumstance_WET) {
		s.say("The road is wet: brake sooner, and lean less on paint, leaves and iron covers.") // common practice, no source
	}
	t.rests(s)
	return s
}

// rests tells on what the weather rests, how old that is, and what it leaves open.
func (t *teller) rests(s *section) {
	var open []string
	for _, what := range t.r.GetPlan().GetNotJudged() {
		if words := phrase.Bare(what); words != "" {
			open = append(open, words)
		}
	}
	if len(open) > 0 {
		s.say("Not judged against the club's limits for calling off. %s.", strings.Join(open, ". "))
	}
	if basis := phrase.Bare(t.r.GetPlan().GetWeatherBasis()); basis != "" {
		s.say("%s", phrase.Sentence(basis))
	}
	forecast := t.r.GetRide().GetForecast()
	if forecast == nil {
		return
	}
	if at := t.r.GetPublishedAt(); at.IsValid() && forecast.GetIssuedAt().IsValid() {
		s.say("The forecast was %s old when this was published.", phrase.Span(max(0, at.AsTime().Sub(forecast.GetIssuedAt().AsTime()).Minutes())))
	}
	s.say("An official weather warning comes before any forecast: look for one before you set out.")
}

// ice tells the worst caution of ice on the way of any group, and why.
func (t *teller) ice() string {
	worst, why := pb.CallOff_ICE_UNSPECIFIED, ""
	for _, group := range t.r.GetPlan().GetGroups() {
		if group.GetIce() > worst {
			worst, why = group.GetIce(), group.GetIceWhy()
		}
	}
	word := "Ice is possible"
	if worst == pb.CallOff_LIKELY {
		word = "Ice is likely"
	}
	if why == "" {
		return word + "."
	}
	return word + ": " + phrase.Bare(why) + "."
}

// callOff tells which limits of the policy the weather breaks, and why the ride takes place all the same.
func (t *teller) callOff(s *section) {
	met := t.r.GetPlan().GetCallOff()
	if len(met) == 0 {
		return
	}
	s.alert("The weather passes the club's limits for calling off.")
	for _, words := range met {
		s.alerts = append(s.alerts, phrase.Sentence(words))
	}
	switch reason := t.r.GetRide().GetReason(); {
	case t.isCalledOff():
	case reason == "":
		s.alert("The leader gave no reason for riding: ask before you start.")
	default:
		s.alert("The leader's reason for riding: %s", phrase.Sentence(reason))
	}
}

// worst tells the hardest weather that any group meets on the way.
func (t *teller) worst(s *section) {
	cold, feels, gust, seen := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(1)
	for _, g := range t.groups {
		if p := g.plan; p != nil {
			cold, feels = lower(cold, p.TemperatureMinC), lower(feels, p.FeelsLikeMinC)
			seen = lower(seen, p.VisibilityMinM)
			if p.GustMaxKmh != nil && *p.GustMaxKmh > gust {
				gust = *p.GustMaxKmh
			}
		}
	}
	var parts []string
	add := func(known float64, words string) {
		if !math.IsInf(known, 0) {
			parts = append(parts, words)
		}
	}
	add(cold, "down to "+phrase.Degrees(cold))
	add(feels, "feels like "+phrase.Degrees(feels))
	add(gust, "gusts up to "+phrase.Number(gust, 0)+" km/h")
	add(seen, "visibility down to "+phrase.Sight(seen))
	if len(parts) > 0 {
		s.say("Hardest on the way: %s.", strings.Join(parts, ", "))
	}
	if !math.IsInf(feels, 1) && feels <= 10 {
		s.say("Riding makes its own wind: hands, feet and ears are colder still.")
	}
	if feels <= frostnipFeelsLikeC {
		s.alert("Bare skin can freeze: keep it covered and watch each other's faces.")
	}
}

func lower(have float64, v *float64) float64 {
	if v != nil && *v < have {
		return *v
	}
	return have
}

// weatherWords are the known values of w, in words.
func weatherWords(w *pb.Weather) string {
	var parts []string
	if w != nil && w.TemperatureC != nil {
		parts = append(parts, phrase.Degrees(w.GetTemperatureC()))
	}
	if w != nil && w.WindKmh != nil {
		parts = append(parts, "wind "+phrase.Number(w.GetWindKmh(), 0)+" km/h"+windFrom(w))
	}
	if w != nil && w.GustKmh != nil {
		parts = append(parts, "gusts "+phrase.Number(w.GetGustKmh(), 0)+" km/h")
	}
	if w != nil && w.Wet != nil {
		parts = append(parts, map[bool]string{true: "a wet road", false: "a dry road"}[w.GetWet()])
	}
	if w.GetRecentlyWet() && !w.GetWet() {
		parts = append(parts, "wet in the hours before")
	}
	if w.GetClearSky() {
		parts = append(parts, "a clear sky")
	}
	if w != nil && w.VisibilityM != nil {
		parts = append(parts, "visibility "+phrase.Sight(w.GetVisibilityM()))
	}
	return strings.Join(parts, ", ")
}

// windFrom is the direction the wind comes from, to eight points.
func windFrom(w *pb.Weather) string {
	deg := w.GetWindFromDeg()
	if w.WindFromDeg == nil || w.GetWindKmh() == 0 || !(deg >= 0 && deg <= 360) {
		return ""
	}
	points := []string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
	return " from the " + points[int(math.Round(deg/45))%8]
}
