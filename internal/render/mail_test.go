package render_test

import (
	"fmt"
	"strings"
	"testing"

	"gritward/internal/render"
	"gritward/internal/render/rostertest"
	pb "gritward/proto/gritward/v1"
)

// TestMail holds the letters about a roster to every member in it, and those of the other kinds.
func TestMail(t *testing.T) {
	var told strings.Builder
	letter := func(kind pb.Letter_Kind, r *pb.Roster, member, name, text string) {
		subject, body := render.Mail(&pb.Letter{Kind: kind, Member: member}, r, name, text)
		fmt.Fprintf(&told, "==== %s\n%s\n", subject, body)
		if strings.ContainsAny(subject, "\r\n") {
			t.Errorf("the subject has two lines: %q", subject)
		}
		for _, line := range strings.Split(body, "\n") {
			if len([]rune(line)) > 78 {
				t.Errorf("a line has %d characters: %q", len([]rune(line)), line)
			}
		}
	}
	r := issue(t, "winter-run")
	r.Changes = []string{"The meeting point is now: The station."}
	for _, g := range r.Placement.Groups {
		for _, row := range g.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider != nil {
					letter(pb.Letter_ROSTER, r, rider.Member, rider.DisplayName, "")
				}
			}
		}
	}
	for _, u := range r.Placement.Unplaced {
		letter(pb.Letter_ROSTER, r, u.Member, u.DisplayName, "")
	}
	letter(pb.Letter_ROSTER, r, "clubs/marrowdale/members/nobody", "Nobody Else", "")
	bare := &pb.Roster{ClubTitle: r.ClubTitle, Zone: r.Zone, Ride: &pb.Ride{Name: r.Ride.Name, Title: "Four Becks\r\nBcc: all@example.org",
		StartAt: r.Ride.StartAt, CallOffReason: "ice on the moor road"}}
	letter(pb.Letter_CALLED_OFF, bare, "clubs/marrowdale/members/a", "Ann", "")
	letter(pb.Letter_PLACE_CAME_FREE, bare, "clubs/marrowdale/members/a", "Ann", "")
	letter(pb.Letter_OVERDUE, bare, "clubs/marrowdale/members/a", "Ann", "Mia is overdue since 14:50.\nLast mark: in the group at 12:10.")
	golden(t, "winter-run.mail.txt", told.String())
}

// TestMailTellsOfNobodyElse: a letter tells of the findings of its own reader's bike only.
func TestMailTellsOfNobodyElse(t *testing.T) {
	for _, name := range rostertest.Names() {
		r := issue(t, name)
		r.Changes = nil
		var riders []*pb.Rider
		for _, g := range r.GetPlacement().GetGroups() {
			for _, row := range g.Rows {
				for _, rider := range []*pb.Rider{row.Left, row.Right} {
					if rider != nil {
						riders = append(riders, rider)
						for i, finding := range rider.Findings {
							finding.Remedy = fmt.Sprintf("Remedy%dx%dx.", len(riders), i)
						}
					}
				}
			}
		}
		for _, reader := range riders {
			_, body := render.Mail(&pb.Letter{Kind: pb.Letter_ROSTER, Member: reader.Member}, r, reader.DisplayName, "")
			for _, other := range riders {
				for _, finding := range other.Findings {
					if got, want := strings.Contains(body, strings.TrimSuffix(finding.Remedy, ".")), other.Member == reader.Member; got != want {
						t.Errorf("%s: the letter to %s tells %q: %v", name, reader.Member, finding.Remedy, got)
					}
				}
			}
		}
	}
}
