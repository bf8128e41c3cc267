package web

import (
	"slices"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// joining is the page on which a member signs up for a ride, or changes that.
type joining struct {
	Ride *pb.Ride
	When string
	// Signup is the sign-up that is there; nil: none.
	Signup *pb.Signup
	Bikes  []bikeChoice
	// May are what the member is qualified for.
	MayLead, MayMarkBack bool
	// Paceless: the member could say which pace suits, and has not.
	Paceless bool
	// Group, Lead and Back are fields of the form.
	Group, Party, Lead, Back Field
}

// bikeChoice is a bike to choose, and where it stands in the groups of the ride.
type bikeChoice struct {
	Name, Title string
	Chosen      bool
	// Stands puts groups together that say the same, Unmet is what is wrong.
	Stands []judged
	Unmet  []answer
}

func (j *joining) filled(form *Form) {
	if len(form.Values) == 0 {
		j.begin(form.Values)
	}
	groups := []string{"", "any that suits"}
	for _, group := range j.Ride.Groups {
		groups = append(groups, group.Id, phrase.FirstOf(group.Title, group.Id)+", "+phrase.Number(group.PaceKmh, 1)+" km/h")
	}
	j.Group = form.Radio("signup.preferred_group", "Group you would like", "Paces come first, then wishes.", groups...)
	j.Party = form.Text("signup.party", "Ride together with", "A word that all of you give: you then ride in one group.", 30)
	j.Lead = form.Select("signup.will_lead", "Lead a group", "", readyWords...)
	j.Back = form.Select("signup.will_mark_back", "Mark the back", "", readyWords...)
	form.labels["signup.bike"] = "Bike"
	chosen := form.Values.Get("signup.bike")
	for i := range j.Bikes {
		j.Bikes[i].Chosen = j.Bikes[i].Name == chosen || chosen == "" && i == j.best()
	}
}

// best is the bike that stands best: the one to begin with.
func (j *joining) best() int {
	best, at := 100, 0
	for i, bike := range j.Bikes {
		worst := 0
		for _, set := range bike.Stands {
			worst = max(worst, int(set.GetStanding()))
		}
		if worst < best {
			best, at = worst, i
		}
	}
	return at
}

// joining gathers what a member chooses from.
func (v *visit) joining() (*joining, error) {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return nil, err
	}
	page := &joining{Ride: ride, When: v.watch().Stamp(ride.StartAt), MayLead: v.who.Member.MayLead, MayMarkBack: v.who.Member.MayMarkBack,
		Paceless: slices.Contains(v.who.Member.Roles, pb.Role_MEMBER) && v.who.Member.PaceMinKmh == 0 && v.who.Member.PaceMaxKmh == 0}
	if page.Signup, err = v.signup(ride.Name, v.me()); err != nil {
		return nil, err
	}
	bikes, err := v.bikesOf(v.me())
	if err != nil {
		return nil, err
	}
	for _, bike := range bikes {
		if bike.RetiredAt != nil {
			continue
		}
		choice := bikeChoice{Name: bike.Name, Title: bike.GetDeclaration().GetFacts().GetTitle()}
		got, err := v.bikes.AssessBike(v.ctx, &pb.AssessBikeRequest{Name: bike.Name, Ride: ride.Name})
		switch {
		case err != nil && problemOf(err).Reason == pb.Reason_NO_POLICY:
		case err != nil:
			return nil, err
		default:
			all := judgedIn(ride, got.Assessments)
			choice.Stands, choice.Unmet = standingsIn(all), costly(answersOf(all))
		}
		page.Bikes = append(page.Bikes, choice)
	}
	return page, nil
}

// costly are the answers that cost more than advice.
func costly(answers []answer) []answer {
	return slices.DeleteFunc(slices.Clone(answers), func(a answer) bool { return a.Standing < pb.Standing_BACK })
}

// signup reads a member's sign-up for a ride; nil: there is none.
func (v *visit) signup(ride, member string) (*pb.Signup, error) {
	found, err := v.rides.GetSignup(v.ctx, &pb.GetSignupRequest{Name: ride + "/signups/" + names.Last(member)})
	if err != nil && problemOf(err).Reason == pb.Reason_NOT_FOUND {
		return nil, nil
	}
	return found, err
}

func (j *joining) title() string {
	if j.Signup != nil {
		return "Change my sign-up"
	}
	return "Sign up"
}

// askJoin shows what to choose from.
func (v *visit) askJoin() error {
	page, err := v.joining()
	if err != nil {
		return err
	}
	return v.view("me-join", page.title(), page)
}

// joinRide signs up, or changes that. Where the sign-up was changed meanwhile in what the form does not show, it goes on.
func (v *visit) joinRide() error {
	signup, err := v.join()
	if err == nil {
		return v.joined(signup)
	}
	page, unread := v.joining()
	if unread != nil {
		return unread
	}
	if problemOf(err).Reason == pb.Reason_CHANGED_MEANWHILE {
		if met := page.meanwhile(v.form()); met != nil {
			err = met
		} else if signup, err = v.join(); err == nil {
			return v.joined(signup)
		}
	}
	v.refuse(err, "me-join", page.title(), page)
	return nil
}

// joined goes on to the place of who signed up, or waits for one.
func (v *visit) joined(signup *pb.Signup) error {
	if signup.State == pb.Signup_WAITING {
		return v.to("/"+signup.Name, "waiting")
	}
	return v.to("/"+signup.Name, "signed-up")
}

func (v *visit) join() (*pb.Signup, error) {
	signup := &pb.Signup{}
	if err := fillIn(signup, "signup", v.form()); err != nil {
		return nil, err
	}
	signup.Member, signup.Etag = v.me(), v.form().Get("etag")
	return v.rides.JoinRide(v.ctx, &pb.JoinRideRequest{Parent: v.ride(), Signup: signup, RequestId: v.form().Get("once"),
		NoneKnown: v.form().Get(noneKnown) != ""})
}
