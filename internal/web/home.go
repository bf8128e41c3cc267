package web

import (
	"cmp"
	"slices"
	"time"

	"gritward/internal/civil"
	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

func (s *site) homeRoutes() {
	s.show("GET /{$}", (*visit).home)
	s.meRoutes()
}

// homeView is what the first page shows: what matters now to who looks at it.
type homeView struct {
	// Today are rides that I lead, or a group of, and that begin today or have not ended: the start line comes first.
	Today []rideCard
	// Notices tell of riders who are overdue.
	Notices []noticeView
	// Mine are the rides to come for which I am signed up, or that I lead; Others the rest.
	Mine, Others []rideCard
	// Again are bikes that have to be certified again soon.
	Again []dueView
	// Due is what else is due soonest, More how much is left out.
	Due  []dueView
	More int
	// NoBike: none is declared yet.
	NoBike bool
	// None: no ride was ever announced.
	None bool
}

// noticeView is a notice that riders are overdue.
type noticeView struct{ Title, Ride, Text, At string }

// rideCard is a ride to come, and how I stand to it.
type rideCard struct {
	*pb.Ride
	When string
	// Signup is mine; nil: I am not signed up.
	Signup *pb.Signup
	Bike   string
	Issue  *issuePlace
	// Worst are the standings in the groups, before there is a roster.
	Stands []judged
	Leads  bool
	// Begun: riders have set off, or the start is past, so that no change of mine is offered.
	Begun bool
	// Open: signing up is possible now. Until tells until when, Opens from when.
	Open         bool
	Until, Opens string
}

// Clock is when the ride starts, local to the club.
func (c rideCard) Clock() string { return c.StartLocal[len(civil.DateLayout)+1:] }

const (
	// homeRides is how many rides the first page looks at.
	homeRides = 20
	// homeDue is how many things that are due it tells.
	homeDue = 3
	// certifyAhead is how many days before a declaration runs out it says so.
	certifyAhead = 7
	// stillOut is for how long after its start a ride is not past, where it is not closed.
	stillOut = 12 * time.Hour
)

// home shows what matters now.
func (v *visit) home() error {
	page := &homeView{}
	bikes, err := v.bikesOf(v.me())
	if err != nil {
		return err
	}
	titles := map[string]string{}
	for _, bike := range bikes {
		if bike.RetiredAt == nil {
			titles[bike.Name] = bike.GetDeclaration().GetFacts().GetTitle()
		}
	}
	page.NoBike = len(titles) == 0
	if err := v.homeDue(page, titles); err != nil {
		return err
	}
	if err := v.homeRides(page, titles); err != nil {
		return err
	}
	if !v.has(pb.Role_GUEST) {
		told, err := v.rolls.ListNotices(v.ctx, &pb.ListNoticesRequest{Parent: v.me(), OpenOnly: true})
		if err != nil {
			return err
		}
		for _, notice := range told.Notices {
			page.Notices = append(page.Notices, noticeView{notice.RideTitle, names.Ride(names.Part(notice.Name, "clubs"), names.Part(notice.Name, "rides")),
				notice.Text, v.watch().Stamp(notice.At)})
		}
	}
	v.keep(v.w, v.token(v.r)) // for as long again
	return v.view("home", "What is next", page)
}

// homeDue adds what is due on my bikes.
func (v *visit) homeDue(page *homeView, titles map[string]string) error {
	if len(titles) == 0 {
		return nil
	}
	all, err := v.due(v.me(), titles, certifyAhead)
	if err != nil {
		return err
	}
	for _, due := range all {
		if due.Again {
			page.Again = append(page.Again, due)
		} else {
			page.Due = append(page.Due, due)
		}
	}
	if page.More = len(page.Due) - homeDue; page.More > 0 {
		page.Due = page.Due[:homeDue]
	}
	return nil
}

// homeRides adds the rides to come, the next first.
func (v *visit) homeRides(page *homeView, titles map[string]string) error {
	listed, err := v.rides.ListRides(v.ctx, &pb.ListRidesRequest{Parent: v.club(), PageSize: homeRides})
	if err != nil {
		return err
	}
	page.None = len(listed.Rides) == 0
	rides := slices.DeleteFunc(listed.Rides, func(ride *pb.Ride) bool {
		return ride.State == pb.Ride_CLOSED || ride.StartAt.AsTime().Before(v.Now().Add(-stillOut))
	})
	slices.SortStableFunc(rides, func(a, b *pb.Ride) int { return cmp.Compare(a.StartLocal, b.StartLocal) })
	for _, ride := range rides {
		card, err := v.rideCard(ride, titles)
		if err != nil {
			return err
		}
		if (card.Leads || card.Issue != nil && card.Issue.Leads && v.has(pb.Role_LEADER)) && ride.State != pb.Ride_CALLED_OFF && ride.StartLocal[:len(civil.DateLayout)] <= v.today() {
			page.Today = append(page.Today, card)
		}
		if card.Signup != nil || card.Leads {
			page.Mine = append(page.Mine, card)
		} else {
			page.Others = append(page.Others, card)
		}
	}
	return nil
}

// rideCard tells how I stand to a ride.
func (v *visit) rideCard(ride *pb.Ride, titles map[string]string) (card rideCard, err error) {
	watch := v.watch()
	card = rideCard{Ride: ride, When: watch.Stamp(ride.StartAt), Leads: ride.Leader == v.me(), Begun: begun(ride, v.Now())}
	now, opens, closes := v.Now(), ride.SignupOpensAt, ride.SignupClosesAt
	if closes == nil {
		closes = ride.StartAt
	}
	card.Open = ride.State != pb.Ride_CALLED_OFF && ride.SetOffAt == nil && now.Before(closes.AsTime()) && (opens == nil || !now.Before(opens.AsTime()))
	if card.Until = watch.Stamp(closes); opens != nil && now.Before(opens.AsTime()) {
		card.Opens = watch.Stamp(opens)
	}
	card.Signup, err = v.signup(ride.Name, v.me())
	if err != nil && problemOf(err).Reason == pb.Reason_NO_POLICY {
		return card, nil
	}
	if err != nil || card.Signup == nil {
		return card, err
	}
	card.Bike = phrase.FirstOf(titles[card.Signup.Bike], names.Last(card.Signup.Bike))
	card.Stands = standingsIn(judgedIn(ride, card.Signup.Standings))
	card.Issue, err = v.issueOf(ride, v.me())
	return card, err
}
