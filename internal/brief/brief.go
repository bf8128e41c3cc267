// Package brief composes the safety brief of a roster: short sentences that a ride leader reads aloud at the start.
//
// It reckons nothing: times, light, standings and breached limits come from the roster. Distances are told in km,
// heights and visibility in m, speeds in km/h, temperatures in °C, times as HH:MM in the roster's zone with the seconds
// dropped, as a watch shows them.
package brief

import (
	"fmt"
	"strings"

	pb "gritward/proto/gritward/v1"
)

// Compose makes the brief of r, which holds everything but the brief. Any part of r may be missing: the brief then says
// what is not known. The sections always come in the same order, with the ids "route", "daylight", "conditions",
// "hazards", "order", "kit", "bikes", "trouble" and "cautions". A section that holds something urgent is marked so and
// begins with it. What is said aloud is five sentences for each group that runs. Text of people is passed on as it is: whoever shows the brief makes it safe to show.
func Compose(r *pb.Roster) *pb.Brief {
	t := newTeller(r)
	var b pb.Brief
	for _, s := range []*section{
		t.route(), t.daylight(), t.conditions(), t.hazards(), t.order(), t.kit(), t.bikes(), t.trouble(), t.cautions(),
	} {
		b.Sections = append(b.Sections, s.proto())
	}
	b.Spoken = t.spoken()
	return &b
}

// section is a part of the brief in the making.
type section struct {
	id, title string
	alerts    []string // told first, as one line; any makes the section urgent
	lines     []string
}

func (s *section) say(format string, args ...any) {
	s.lines = append(s.lines, fmt.Sprintf(format, args...))
}

func (s *section) alert(format string, args ...any) {
	s.alerts = append(s.alerts, fmt.Sprintf(format, args...))
}

func (s *section) proto() *pb.BriefSection {
	out := &pb.BriefSection{Id: s.id, Title: s.title, Urgent: len(s.alerts) > 0}
	if out.Urgent {
		out.Lines = append(out.Lines, strings.Join(s.alerts, " "))
	}
	out.Lines = append(out.Lines, s.lines...)
	return out
}
