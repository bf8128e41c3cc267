package policy

import (
	"fmt"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// settings tell each key of a policy file in sentences, by the key.
var settings = map[string]func(*pb.Policy) []string{
	"title":                 func(p *pb.Policy) []string { return []string{"The policy is called “" + p.GetTitle() + "”."} },
	"season":                tellSeason,
	"dark":                  tellDark,
	"lights":                tellLights,
	"poor_visibility_below": tellVisibility,
	"groups":                tellGroups,
	"pace":                  tellPace,
	"privacy":               tellPrivacy,
	"roll_call":             tellRollCall,
	"incidents":             tellIncidents,
	"declaration":           tellDeclaration,
	"call_off":              tellCallOff,
	"rules":                 rulesFollow,
}

func tellSeason(p *pb.Policy) []string {
	return []string{"The season is from " + dayWords(p.GetSeason().GetFrom()) + " to " + dayWords(p.GetSeason().GetTo()) + ". Both days belong to it."}
}

// dayWords are an end of the season in words.
func dayWords(end string) string {
	switch end {
	case "clocks-back":
		return "the day on which the clocks go back"
	case "clocks-forward":
		return "the day on which the clocks go forward"
	}
	return end
}

func tellDark(p *pb.Policy) []string {
	begins := map[pb.Darkness_Begins]string{
		pb.Darkness_SUNSET:      "from sunset to sunrise",
		pb.Darkness_LIGHTING_UP: "from half an hour after sunset to half an hour before sunrise",
		pb.Darkness_CIVIL_DUSK:  "while the sun is more than 6° below the horizon",
	}[p.GetDark().GetBegins()]
	told := []string{"It counts as dark " + begins + ", at the place where the group is then."}
	if margin := p.GetDark().GetMargin().AsDuration(); margin > 0 {
		return append(told, "Lights are asked for "+lasting(margin)+" earlier in the evening, and "+lasting(margin)+" longer in the morning.")
	}
	return append(told, "Lights are asked for then, no earlier and no longer.")
}

func tellLights(p *pb.Policy) []string {
	var told []string
	if reserve := p.GetLights().GetReserve().AsDuration(); reserve > 0 {
		told = append(told, "Lamps must last as long as the group needs lights, and "+lasting(reserve)+" more.")
	} else {
		told = append(told, "Lamps must last as long as the group needs lights, without a reserve.")
	}
	var points []string
	for _, point := range p.GetLights().GetCold() {
		points = append(points, fmt.Sprintf("%s %% at %s °C", phrase.Number(100*point.GetLeft(), 2), phrase.Number(point.GetAtC(), 2)))
	}
	if points == nil {
		return append(told, "In the cold batteries give less, as the program has it.")
	}
	return append(told, "In the cold batteries give less: of the run-time there is left "+phrase.List(points)+", and in between on a straight line.")
}

func tellVisibility(p *pb.Policy) []string {
	return []string{"Visibility is poor below " + metres(p.GetPoorVisibilityBelowM()) + "."}
}

func tellGroups(p *pb.Policy) []string {
	g := p.GetGroups()
	size := fmt.Sprintf("A group that runs has %d to %d riders", g.GetSize().GetMin(), g.GetSize().GetMax())
	back := fmt.Sprintf("; %d of them at most may ride at the back because of their bike.", g.GetBackPlaces())
	if g.GetBackPlaces() == 0 {
		back = "; none of them may ride at the back because of the bike."
	}
	need := map[pb.GroupLimits_Need]string{pb.GroupLimits_REQUIRED: "must be there", pb.GroupLimits_OPTIONAL: "may be missing"}
	return []string{size + back, "A qualified leader " + need[g.GetLeader()] + "; a qualified back marker, who is not the leader, " + need[g.GetBackMarker()] + "."}
}

func tellPace(p *pb.Policy) []string {
	if p.GetPace().GetRecordedTimes() == pb.PaceReckoning_USE {
		return []string{"Once five rides of a group are recorded, its plan is reckoned with how long they took."}
	}
	return []string{"A group’s plan is reckoned by its pace alone; how long past rides took is shown beside it."}
}

func tellPrivacy(p *pb.Policy) []string {
	privacy := p.GetPrivacy()
	return stated(
		kept{privacy.GetContactsFor(), "Who led a ride can read its riders’ emergency contacts for %s after it is closed."},
		kept{privacy.GetRidesKept(), "A ride is kept for %s after its start, with all that belongs to it."},
		kept{privacy.GetInvitesKept(), "An invite is kept for %s after it was used, withdrawn or expired."},
		kept{privacy.GetDevicesKept(), "A device is kept for %s after it was shut out."})
}

func tellRollCall(p *pb.Policy) []string {
	call := p.GetRollCall()
	return stated(
		kept{call.GetGrace(), "Who is not known to be home %s after the group was planned home is overdue: the ride leader is told."},
		kept{call.GetThenSecretary(), "The secretaries are told %s later. Call the emergency services as soon as somebody may be hurt or lost, and do not wait for it."})
}

func tellIncidents(p *pb.Policy) []string {
	limits := p.GetIncidents()
	return stated(
		kept{limits.GetReportWithin(), "An incident must be reported to the club’s insurer within %s; secretaries are reminded."},
		kept{limits.GetKept(), "Its record is deleted %s after it happened."})
}

// kept is a span of time that a sentence tells.
type kept struct {
	span *durationpb.Duration
	text string
}

// stated are the sentences of those spans that the file has.
func stated(all ...kept) (told []string) {
	for _, one := range all {
		if one.span != nil {
			told = append(told, fmt.Sprintf(one.text, lasting(one.span.AsDuration())))
		}
	}
	if told == nil {
		return []string{"Nothing is said here."}
	}
	return told
}

func tellDeclaration(p *pb.Policy) []string {
	return []string{"What a member declares of a bike counts for " + lasting(p.GetDeclaration().GetValid().AsDuration()) + "; then it is certified again."}
}

func tellCallOff(p *pb.Policy) []string {
	limits := p.GetCallOff()
	var when []string
	if limits.FeelsLikeBelowC != nil {
		when = append(when, "it feels colder than "+phrase.Number(limits.GetFeelsLikeBelowC(), 2)+" °C")
	}
	if limits.GustAboveKmh != nil {
		when = append(when, "gusts are above "+phrase.Number(limits.GetGustAboveKmh(), 2)+" km/h")
	}
	if limits.VisibilityBelowM != nil {
		when = append(when, "visibility is below "+metres(limits.GetVisibilityBelowM()))
	}
	switch limits.GetIce() {
	case pb.CallOff_POSSIBLE:
		when = append(when, "ice is possible")
	case pb.CallOff_LIKELY:
		when = append(when, "ice is likely")
	}
	if when == nil {
		return []string{"No limit is set at which a ride should not start."}
	}
	return []string{"A ride should not start, unless its leader writes down why, when " + phrase.Either(when) + ". An official weather warning comes before all of them."}
}

func metres(m float64) string { return phrase.Number(m, 2) + " m" }

// lasting is a span of time: in days where it is whole days, else in hours and minutes.
func lasting(d time.Duration) string {
	const day = 24 * time.Hour
	if d >= day && d%day == 0 {
		return phrase.Counted(int(d/day), "day", "days")
	}
	if seconds := d % time.Minute; seconds != 0 {
		return phrase.Span(d.Minutes()) + " " + phrase.Number(seconds.Seconds(), 3) + " s"
	}
	return phrase.Span(d.Minutes())
}
