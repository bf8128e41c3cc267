package web

import (
	"bytes"
	"cmp"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

// placeView is a member's place on a ride.
type placeView struct {
	Ride   *pb.Ride
	When   string
	Name   string
	Own    bool
	Signup *pb.Signup // nil: there is none
	// Bike is what the member calls the bike.
	Bike, Wish string
	// Issue is the place in the newest issue of the roster; nil: none is published, or the member is not in it.
	Issue *issuePlace
	// Why is why the member rides there as things stand now; nil: that cannot be told any more.
	Why *pb.Explanation
	// Lifts is what would lift the bike.
	Lifts []liftView
	Unmet []answer
}

// issuePlace is a place in an issue of the roster.
type issuePlace struct {
	Number int32
	// Group is the title of the group; "" for none.
	Group string
	// Start and Home are the group's times.
	Start, Home      string
	Leads, MarksBack bool
	Standing         pb.Standing
	Row, Rows        int
	Beside           string
	Unplaced         []string
}

// Means says what the standing means.
func (p *issuePlace) Means() string { return meansOf(p.Standing) }

// liftView is what would lift a bike in groups.
type liftView struct {
	Groups   string
	Standing pb.Standing
	Ways     []*pb.LiftWay
}

// Means says what the standing means.
func (l liftView) Means() string { return meansOf(l.Standing) }

func (v *visit) signupName() string { return v.ride() + "/signups/" + v.r.PathValue("member") }

// place shows a member's place, why, and what would change it.
func (v *visit) place() error {
	page, err := v.placeOf()
	if err != nil {
		return err
	}
	title := "My place"
	if !page.Own {
		title = "Place of " + page.Name
	}
	return v.view("me-place", title, page)
}

func (v *visit) placeOf() (*placeView, error) {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return nil, err
	}
	member := names.Member(v.r.PathValue("club"), v.r.PathValue("member"))
	page := &placeView{Ride: ride, When: v.watch().Stamp(ride.StartAt), Own: member == v.me(), Name: v.who.Member.DisplayName}
	if page.Signup, err = v.signup(ride.Name, member); err != nil || page.Signup == nil {
		return page, err
	}
	page.Name, page.Bike = page.Signup.DisplayName, names.Last(page.Signup.Bike)
	page.Wish = groupTitles(ride)[page.Signup.PreferredGroup]
	page.Unmet = unmetOf(answersOf(judgedIn(ride, page.Signup.Standings)))
	if bike, err := v.bikes.GetBike(v.ctx, &pb.GetBikeRequest{Name: page.Signup.Bike}); err == nil {
		page.Bike = bike.GetDeclaration().GetFacts().GetTitle()
	}
	if page.Issue, err = v.issueOf(ride, member); err != nil {
		return nil, err
	}
	if ride.State == pb.Ride_CALLED_OFF || ride.State == pb.Ride_CLOSED {
		return page, nil
	}
	return page, v.explained(page)
}

// explained adds why, and what would lift the bike. Where it cannot be told any more, nothing is said.
func (v *visit) explained(page *placeView) error {
	why, err := v.rides.ExplainPlace(v.ctx, &pb.ExplainPlaceRequest{Name: page.Signup.Name})
	if err == nil {
		page.Why = why
	} else if !past(err) {
		return err
	}
	lifts, err := v.bikes.LiftBike(v.ctx, &pb.LiftBikeRequest{Name: page.Signup.Bike, Ride: page.Ride.Name})
	if err != nil {
		if past(err) {
			return nil
		}
		return err
	}
	page.Lifts = liftsIn(page.Ride, lifts.Lifts, page.Why)
	return nil
}

// past tells whether an error says that it is too late to tell, or that there is no ground to tell on.
func past(err error) bool {
	switch problemOf(err).Reason {
	case pb.Reason_RIDE_OVER, pb.Reason_WRONG_STATE, pb.Reason_NO_POLICY, pb.Reason_NOT_FOUND, pb.Reason_NOT_ALLOWED:
		return true
	}
	return false
}

// liftsIn tells what would lift a bike in the groups in which something has to. What is told already, as a way to change the
// place, is left out.
func liftsIn(ride *pb.Ride, lifts []*pb.Lift, told *pb.Explanation) []liftView {
	titles, known := groupTitles(ride), map[string]bool{}
	for _, option := range told.GetOptions() {
		for _, remedy := range option.Remedies {
			known[option.Group+"\n"+remedy.Words] = true
		}
	}
	var all []liftView
	for _, lift := range lifts {
		if lift.Standing < pb.Standing_ADVISED {
			continue
		}
		ways := slices.DeleteFunc(slices.Clone(lift.Ways), func(way *pb.LiftWay) bool { return known[lift.Group+"\n"+way.Words] })
		if len(lift.Ways) > 0 && len(ways) == 0 {
			continue
		}
		slices.SortStableFunc(ways, func(a, b *pb.LiftWay) int { return cmp.Compare(b.Reaches, a.Reaches) })
		title := phrase.FirstOf(titles[lift.Group], lift.Group)
		i := slices.IndexFunc(all, func(one liftView) bool {
			return one.Standing == lift.Standing && slices.EqualFunc(one.Ways, ways, phrase.SameWay)
		})
		if i < 0 {
			all = append(all, liftView{title, lift.Standing, ways})
			continue
		}
		all[i].Groups += ", " + title
		all[i].Ways = withoutGroup(all[i].Ways)
	}
	return all
}

// withoutGroup are ways in words that name no group: what is to be done alone.
func withoutGroup(ways []*pb.LiftWay) (told []*pb.LiftWay) {
	for _, way := range ways {
		var words []string
		for _, step := range way.Steps {
			words = append(words, phrase.Stopped(phrase.Sentence(step.Remedy)))
		}
		told = append(told, &pb.LiftWay{Reaches: way.Reaches, Steps: way.Steps, Words: strings.Join(words, " ")})
	}
	return told
}

// issueOf finds a member in the newest issue of a ride's roster; nil where there is none, or the member is not in it.
func (v *visit) issueOf(ride *pb.Ride, member string) (*issuePlace, error) {
	if ride.RosterNumber == 0 {
		return nil, nil
	}
	issue, err := v.rides.GetRoster(v.ctx, &pb.GetRosterRequest{Name: ride.Name + "/rosters/-"})
	if err != nil {
		return nil, err
	}
	return placeIn(issue, member, v.watch()), nil
}

// placeIn finds a member in an issue; nil where the member is not in it.
func placeIn(issue *pb.Roster, member string, watch phrase.Watch) *issuePlace {
	for _, group := range issue.GetPlacement().GetGroups() {
		for i, row := range group.Rows {
			for _, pair := range [][2]*pb.Rider{{row.Left, row.Right}, {row.Right, row.Left}} {
				if rider := pair[0]; rider.GetMember() == member {
					return &issuePlace{
						Number: issue.Number, Group: phrase.FirstOf(group.Title, group.Group), Leads: rider.Leads, MarksBack: rider.MarksBack,
						Start: watch.Clock(group.GetPlan().GetStartAt()), Home: watch.Clock(group.GetPlan().GetHomeAt()),
						Standing: rider.Standing, Row: i + 1, Rows: len(group.Rows), Beside: pair[1].GetDisplayName(),
					}
				}
			}
		}
	}
	for _, unplaced := range issue.GetPlacement().GetUnplaced() {
		if unplaced.Member == member {
			return &issuePlace{Number: issue.Number, Unplaced: unplaced.Why}
		}
	}
	return nil
}

// calendar gives the ride as a file for a calendar.
func (v *visit) calendar() error {
	page, err := v.placeOf()
	if err != nil {
		return err
	}
	member := names.Member(v.r.PathValue("club"), v.r.PathValue("member"))
	entry := render.Entry{Ride: page.Ride, Member: member, Name: page.Name, Signup: page.Signup, Club: v.who.Club.Title, Zone: v.who.Club.Zone}
	if page.Ride.RosterNumber > 0 {
		entry.Roster, err = v.rides.GetRoster(v.ctx, &pb.GetRosterRequest{Name: page.Ride.Name + "/rosters/-"})
	} else {
		entry.Plan, err = v.rides.PlanRide(v.ctx, &pb.PlanRideRequest{Name: page.Ride.Name})
	}
	if err != nil {
		return err
	}
	var drawn bytes.Buffer
	if err := render.Calendar(&drawn, entry, v.Now()); err != nil {
		return err
	}
	v.keepFile("text/calendar; charset=utf-8", names.Last(page.Ride.Name)+".ics", drawn.Bytes())
	return nil
}

// keepFile sends a file to keep.
func (v *visit) keepFile(kind, name string, content []byte) {
	v.w.Header().Set("Content-Type", kind)
	v.w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
	v.w.WriteHeader(http.StatusOK)
	_, _ = v.w.Write(content)
}

// withdraw signs a member off.
func (v *visit) withdraw() error {
	_, err := v.rides.WithdrawSignup(v.ctx, &pb.WithdrawSignupRequest{Name: v.signupName(), Etag: v.form().Get("etag")})
	if err != nil {
		return err
	}
	return v.to("/", "signed-off")
}
