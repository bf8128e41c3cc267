package phrase

import (
	"strings"

	pb "gritward/proto/gritward/v1"
)

// IncidentCaution is told wherever an incident is written down or shown.
const IncidentCaution = "In an emergency call the emergency number first. This record replaces neither the police nor the insurer's own form."

// InsurerSaid tells what an addition to a record says beside its text; empty for nothing.
func InsurerSaid(added *pb.IncidentAmendment) string {
	var said []string
	switch added.GetInsurer() {
	case pb.IncidentAmendment_REPORTED:
		said = append(said, "reported to the insurer on "+added.GetReportedOn())
	case pb.IncidentAmendment_NEED_NOT_BE:
		said = append(said, "need not be reported to the insurer")
	}
	if len(added.GetPhotographs()) > 0 {
		said = append(said, "photographs "+strings.Join(added.GetPhotographs(), ", "))
	}
	return strings.Join(said, "; ")
}

// IncidentPeople are those in a record.
func IncidentPeople(people []*pb.IncidentPerson) string {
	var said []string
	for _, one := range people {
		if one.GetMember() == "" {
			said = append(said, one.GetOther()+" (no member)")
		} else {
			said = append(said, FirstOf(one.GetDisplayName(), one.GetMember()[strings.LastIndexByte(one.GetMember(), '/')+1:]))
		}
	}
	return strings.Join(said, "; ")
}

// IncidentConditions tell the conditions of the plan, for short.
func IncidentConditions(c *pb.IncidentConditions) string {
	if c == nil {
		return ""
	}
	var said []string
	w := c.GetWeather()
	if w.GetTemperatureC() != 0 || w != nil && w.TemperatureC != nil {
		said = append(said, Number(w.GetTemperatureC(), 1)+" °C")
	}
	if w != nil && w.Wet != nil {
		said = append(said, map[bool]string{true: "wet road", false: "dry road"}[w.GetWet()])
	}
	if w != nil && w.WindKmh != nil {
		said = append(said, "wind "+Number(w.GetWindKmh(), 1)+" km/h")
	}
	if w != nil && w.VisibilityM != nil {
		said = append(said, "visibility "+Number(w.GetVisibilityM(), 0)+" m")
	}
	if c.GetIce() != 0 {
		said = append(said, "ice "+strings.ToLower(c.GetIce().String()))
	}
	if c.GetDark() {
		said = append(said, "dark")
	}
	return strings.Join(said, ", ")
}

// Insurer tell how an incident stands with the insurer.
func Insurer(s *pb.IncidentSummary) string {
	switch s.GetInsurer() {
	case pb.IncidentAmendment_REPORTED:
		return "reported"
	case pb.IncidentAmendment_NEED_NOT_BE:
		return "need not be reported"
	}
	switch left := int(s.GetDaysLeft()); {
	case left < 0:
		return "TO BE REPORTED, " + Counted(-left, "day", "days") + " late: by " + s.GetReportBy()
	case left == 0:
		return "to be reported today"
	default:
		return "to be reported by " + s.GetReportBy() + ", " + Counted(left, "day", "days") + " left"
	}
}
