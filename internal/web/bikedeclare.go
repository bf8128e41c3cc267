package web

import (
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// declaring is the page on which a bike is declared.
type declaring struct {
	// Bike is the bike that is declared again; nil for a new one.
	Bike *pb.Bike
	// Starts are what a new bike may begin with, Start the one taken.
	Starts []beginning
	Start  string
	// Answer is where the answers to the half-filled form come from.
	Answer string
	// Ride is the one that the answers are about; nil: days without a ride.
	Ride *pb.Ride
	// Judged says where the bike would stand; nil: not asked yet.
	Judged []judged
	// Other are answers that belong to no system.
	Other []answer
	// Sections and Rest are what is asked; made when the form is.
	Sections []*section
	Rest     []fieldRow

	values  url.Values
	answers []answer
	// begun is what the form of a new bike begins with: a part that is still as it was is not answered. Nil: all are.
	begun url.Values
}

// filled fills the form in and lays its fields out.
func (d *declaring) filled(form *Form) {
	if d.values != nil {
		form.Values = d.values
	}
	d.Sections, d.Rest = form.sections(), form.rest()
	var known []pb.Check
	before := d.Sections
	if d.begun != nil && !maps.EqualFunc(d.begun, d.values, slices.Equal) {
		begun := *form
		begun.Values = d.begun
		before = begun.sections()
	}
	for i, s := range d.Sections {
		known = append(known, s.Checks...)
		s.Again = d.Bike != nil
		if d.begun == nil || !slices.Equal(s.said(), before[i].said()) {
			s.Answers = about(d.answers, s.Checks)
		}
	}
	d.Other = slices.DeleteFunc(unmetOf(d.answers), func(a answer) bool { return slices.Contains(known, a.Check) })
}

// bike is the bike that the path names.
func (v *visit) bike() string {
	return names.Bike(v.r.PathValue("club"), v.r.PathValue("member"), v.r.PathValue("bike"))
}

// today is the day in the club's zone.
func (v *visit) today() string { return v.watch().Local(v.Now()).Format(civil.DateLayout) }

// newBike shows the form for a bike that is not declared yet.
func (v *visit) newBike() error {
	start := beginningOf(v.r.URL.Query().Get("start"))
	listed, err := v.bikesOf(v.asked())
	if err != nil {
		return err
	}
	page, err := v.declaring(nil, v.r.URL.Query().Get("ride"))
	if err != nil {
		return err
	}
	page.Start, page.values = start.ID, start.values(freeTitle(listed, start.Title))
	page.begun = page.values
	if err := v.judge(page, ""); err != nil {
		return err
	}
	return v.view("bike-declare", "Declare a bike", page)
}

// declaring is the page for a bike, or a new one, that answers for a ride where its id is given.
func (v *visit) declaring(bike *pb.Bike, ride string) (*declaring, error) {
	page := &declaring{Bike: bike, Starts: beginnings}
	if bike == nil {
		page.Answer = "/" + v.asked() + "/bikes/new/answer"
	} else {
		page.Answer = "/" + bike.Name + "/answer"
	}
	if !names.ValidID(ride) {
		return page, nil
	}
	found, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: names.Ride(v.r.PathValue("club"), ride)})
	if err != nil && problemOf(err).Reason == pb.Reason_NOT_FOUND {
		return page, nil
	}
	page.Ride = found
	return page, err
}

// bikesOf are all bikes of a member.
func (v *visit) bikesOf(member string) ([]*pb.Bike, error) {
	listed, err := v.bikes.ListBikes(v.ctx, &pb.ListBikesRequest{Parent: member, PageSize: 1000})
	return listed.GetBikes(), err
}

// titleTaken tells whether a member has a bike in use of a title.
func titleTaken(bikes []*pb.Bike, title string) bool {
	return slices.ContainsFunc(bikes, func(bike *pb.Bike) bool {
		return bike.RetiredAt == nil && bike.GetDeclaration().GetFacts().GetTitle() == title
	})
}

// freeTitle is a title that none of the bikes in use has: "winter bike 2".
func freeTitle(bikes []*pb.Bike, title string) string {
	free := title
	for n := 2; titleTaken(bikes, free); n++ {
		free = title + " " + strconv.Itoa(n)
	}
	return free
}

// editBike shows the form for the next declaration of a bike, as it is now.
func (v *visit) editBike() error {
	bike, err := v.bikes.GetBike(v.ctx, &pb.GetBikeRequest{Name: v.bike()})
	if err != nil {
		return err
	}
	page, err := v.declaring(bike, v.r.URL.Query().Get("ride"))
	if err != nil {
		return err
	}
	page.values = filledFrom(bike.InEffect, facts)
	goesOnFromBike(page.values, bike)
	if err := v.judge(page, names.Last(bike.Name)); err != nil {
		return err
	}
	return v.view("bike-declare", "Declare "+bike.GetDeclaration().GetFacts().GetTitle(), page)
}

// judge answers to a form as it is first shown, so that nothing moves on the page when it is seen.
func (v *visit) judge(page *declaring, bike string) error {
	read, err := readFacts(page.values, v.today())
	if err == nil {
		page.Judged, err = v.tried(read, bike, page.Ride.GetName())
	}
	switch {
	case err == nil:
		page.answers = answersOf(page.Judged)
	case problemOf(err).Reason != pb.Reason_NO_POLICY && problemOf(err).Reason != pb.Reason_FIELD_INVALID:
		return err
	}
	return nil
}

// declare takes the form of a declaration: it adds or takes away a lamp, answers, or certifies.
func (v *visit) declare() error {
	var bike *pb.Bike
	title := "Declare a bike"
	if v.r.PathValue("bike") != "" {
		var err error
		if bike, err = v.bikes.GetBike(v.ctx, &pb.GetBikeRequest{Name: v.bike()}); err != nil {
			return err
		}
		title = "Declare " + bike.GetDeclaration().GetFacts().GetTitle()
	}
	page, err := v.declaring(bike, v.form().Get("ride"))
	if err != nil {
		return err
	}
	page.Start, page.values = v.form().Get("start"), v.form()
	if done, err := v.lamps(page); done || err != nil {
		if err != nil {
			return err
		}
		return v.view("bike-declare", title, page)
	}
	read, err := readFacts(v.form(), v.today())
	if err == nil {
		if page.Judged, err = v.tried(read, names.Last(bike.GetName()), page.Ride.GetName()); err == nil {
			page.answers = answersOf(page.Judged)
		} else if problemOf(err).Reason == pb.Reason_NO_POLICY {
			err = nil // nothing to be said, and yet a bike can be declared
		}
	}
	if err == nil && v.form().Get("act") == "certify" {
		return v.certify(page, title, read)
	}
	if err != nil {
		v.refuse(err, "bike-declare", title, page)
		return nil
	}
	return v.view("bike-declare", title, page)
}

// goesOnFromBike has a form go on from a bike as it is, and remember which declaration that has.
func goesOnFromBike(form url.Values, bike *pb.Bike) {
	form.Set("etag", bike.Etag)
	form.Set("revision", strconv.Itoa(int(bike.Declaration.GetRevision())))
}

// certify declares the bike, and leads to its page. Where nothing of the bike was changed meanwhile but how far it was ridden, it
// goes on.
func (v *visit) certify(page *declaring, title string, read *pb.BikeFacts) error {
	asked := &pb.DeclareBikeRequest{Parent: v.asked(), Facts: read, RequestId: v.form().Get("once"), Etag: v.form().Get("etag")}
	if page.Bike != nil {
		asked.BikeId = names.Last(page.Bike.Name)
	} else {
		asked.NewBike = true
	}
	made, err := v.bikes.DeclareBike(v.ctx, asked)
	if err != nil && page.Bike != nil && problemOf(err).Reason == pb.Reason_CHANGED_MEANWHILE {
		began := v.form().Get("revision")
		if goesOnFromBike(v.form(), page.Bike); v.form().Get("revision") == began {
			asked.Etag = page.Bike.Etag
			made, err = v.bikes.DeclareBike(v.ctx, asked)
		} else {
			err = declaredMeanwhile(page.Bike.InEffect, read)
		}
	}
	if err != nil {
		v.refuse(err, "bike-declare", title, page)
		return nil
	}
	if page.Ride != nil {
		return v.to("/"+page.Ride.Name+"/join", "certified")
	}
	return v.to("/"+made.Bike.Name, "certified")
}

// declaredMeanwhile says that a bike was declared since its form was opened, and what of it now stands otherwise than was typed.
func declaredMeanwhile(now, typed *pb.BikeFacts) error {
	met := &fault.Error{Reason: pb.Reason_CHANGED_MEANWHILE, Message: "this bike was declared while the page was open, on another device or by somebody else; nothing you typed is lost. "}
	for _, said := range changedLabels(saidOf(typed), saidOf(now)) {
		met.Limits = append(met.Limits, fault.Limit{What: "now “" + said + "”"})
	}
	if met.Limits == nil {
		met.Message += "It now says the same as yours: you need not certify it again"
	} else {
		met.Message += "Where it now says something else than yours is told here: certifying puts yours in its place"
	}
	return met
}

// lamps adds a lamp to the form or takes one away, where a button for that was pressed.
func (v *visit) lamps(page *declaring) (bool, error) {
	act := v.form().Get("act")
	switch {
	case act == "front-lamp":
		page.values = renumbered(v.form(), -1)
		moreLamps(page.values, pb.End_FRONT)
	case act == "rear-lamp":
		page.values = renumbered(v.form(), -1)
		moreLamps(page.values, pb.End_REAR)
	case strings.HasPrefix(act, "no-lamp-"):
		at, err := strconv.Atoi(strings.TrimPrefix(act, "no-lamp-"))
		if err != nil {
			return true, fault.Invalid("act", "%q is nothing that this form does", act)
		}
		page.values = renumbered(v.form(), at)
	default:
		v.r.PostForm = renumbered(v.form(), -1) // so that what the server says of a lamp stands beside that lamp
		page.values = v.form()
		return false, nil
	}
	return true, nil
}

// answered answers a half-filled form: the part of the page that says where the bike would stand.
func (v *visit) answered() error {
	bike := ""
	if v.r.PathValue("bike") != "" {
		bike = names.Last(v.bike())
	}
	v.r.PostForm = renumbered(v.form(), -1)
	page, err := v.declaring(nil, v.form().Get("ride"))
	if err != nil {
		return err
	}
	page.values = v.form()
	if bike == "" {
		page.begun = beginningOf(v.form().Get("start")).values("")
	}
	read, err := readFacts(v.form(), v.today())
	if err == nil {
		if page.Judged, err = v.tried(read, bike, page.Ride.GetName()); err == nil {
			page.answers = answersOf(page.Judged)
		}
	}
	if err != nil {
		problem := problemOf(err)
		if len(problem.Fields) == 0 {
			return err
		}
		return v.part(statusOf(problem.Reason), "unread", problem)
	}
	form := v.newForm(nil)
	page.filled(&form)
	return v.part(http.StatusOK, "answers", page)
}
