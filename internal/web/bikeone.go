package web

import (
	"slices"
	"strconv"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// bikeView is one bike.
type bikeView struct {
	bikeCard
	Own bool
	// Said is what counts now: as declared, with the care log since.
	Said []saidSection
	// Doubt is what look-overs at the start found; "" for nothing.
	Doubt string
	// Judged says where it stands, Unmet why.
	Judged []judged
	Unmet  []answer
	Due    []dueView
	// Km is how far it went on rides of the club; "" for nowhere yet.
	Km string
}

// getBike reads the bike that the path names.
func (v *visit) getBike() (*bikeView, error) {
	bike, err := v.bikes.GetBike(v.ctx, &pb.GetBikeRequest{Name: v.bike()})
	if err != nil {
		return nil, err
	}
	page := &bikeView{bikeCard: v.cardOf(bike), Own: v.asked() == v.me(), Said: saidOf(bike.InEffect)}
	page.Doubt = phrase.LookedOver(bike.Doubts, v.watch().Local(v.Now()).Location())
	if bike.RiddenKm > 0 {
		page.Km = phrase.Number(bike.RiddenKm, 0) + " km"
	}
	return page, nil
}

// showBike shows a bike: where it stands, what is due, and what was declared.
func (v *visit) showBike() error {
	page, err := v.getBike()
	if err != nil {
		return err
	}
	if page.RetiredAt == nil {
		if page.Judged, err = v.onDays(page.Name); err != nil {
			return err
		}
		page.Unmet = unmetOf(answersOf(page.Judged))
		if page.Own {
			if page.Due, err = v.due(page.Name, map[string]string{page.Name: ""}, ahead); err != nil {
				return err
			}
		}
	}
	return v.view("bike", page.Title, page)
}

// litMin is for how long lights are needed on the evening that a bike is assessed for.
const litMin = 120

// onDays says where a bike stands by day and after dark; nowhere without a policy, and to who may not ask.
func (v *visit) onDays(bike string) ([]judged, error) {
	var all []judged
	for _, day := range []struct {
		where string
		lit   float64
	}{{"by day", 0}, {"after dark", litMin}} {
		got, err := v.bikes.AssessBike(v.ctx, &pb.AssessBikeRequest{Name: bike, LitMin: day.lit})
		if err != nil {
			if reason := problemOf(err).Reason; reason == pb.Reason_NO_POLICY || reason == pb.Reason_NOT_ALLOWED {
				return nil, nil
			}
			return nil, err
		}
		for _, one := range got.Assessments {
			all = append(all, judged{day.where, one})
		}
	}
	return all, nil
}

// askAgain shows what counts now, and asks whether it is true today.
func (v *visit) askAgain() error {
	page, err := v.getBike()
	if err != nil {
		return err
	}
	return v.view("bike-again", "Still true today?", page)
}

// again certifies a bike as it is in effect. Where it was changed meanwhile, it is shown and asked about anew.
func (v *visit) again() error {
	page, err := v.getBike()
	if err != nil {
		return err
	}
	_, err = v.bikes.DeclareBike(v.ctx, &pb.DeclareBikeRequest{
		Parent: v.asked(), BikeId: names.Last(page.Name), Facts: page.InEffect, RequestId: v.form().Get("once"), Etag: v.form().Get("etag"),
	})
	if err != nil {
		v.refuse(err, "bike-again", "Still true today?", page)
		return nil
	}
	if v.form().Get("from") == "home" {
		return v.to("/", "certified")
	}
	return v.to("/"+page.Name, "certified")
}

// declarationRow is one declaration in the history of a bike.
type declarationRow struct {
	*pb.Declaration
	At, Changed string
}

// declarationsView is the history of a bike.
type declarationsView struct {
	Bike bikeCard
	Rows []declarationRow
}

// declarationsOf reads what was certified about a bike, oldest first.
func (v *visit) declarationsOf(bike string) ([]*pb.Declaration, error) {
	var all []*pb.Declaration
	for token := ""; ; {
		page, err := v.bikes.ListDeclarations(v.ctx, &pb.ListDeclarationsRequest{Parent: bike, PageSize: 1000, PageToken: token})
		if err != nil {
			return nil, err
		}
		all = append(all, page.Declarations...)
		if token = page.NextPageToken; token == "" {
			return all, nil
		}
	}
}

// declarations lists what was certified about a bike, newest first.
func (v *visit) declarations() error {
	page, err := v.getBike()
	if err != nil {
		return err
	}
	listed, err := v.declarationsOf(page.Name)
	if err != nil {
		return err
	}
	view := &declarationsView{Bike: page.bikeCard}
	var before *pb.BikeFacts
	for _, one := range listed {
		view.Rows = append(view.Rows, declarationRow{one, v.watch().Stamp(one.CertifiedAt), changedSince(before, one.Facts)})
		before = one.Facts
	}
	slices.Reverse(view.Rows)
	return v.view("bike-declarations", "Declarations of "+page.Title, view)
}

// declaration shows one declaration as it was certified.
func (v *visit) declaration() error {
	revision, err := strconv.Atoi(v.r.PathValue("revision"))
	if err != nil || revision < 1 {
		return v.nowhere()
	}
	page, err := v.getBike()
	if err != nil {
		return err
	}
	listed, err := v.declarationsOf(page.Name)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(listed, func(one *pb.Declaration) bool { return int(one.Revision) == revision })
	if at < 0 {
		return v.nowhere()
	}
	one := listed[at]
	page.Said = saidOf(one.Facts)
	return v.view("bike-declaration", page.Title+", declaration "+strconv.Itoa(revision), struct {
		*bikeView
		Number int
		At     string
	}{page, revision, v.watch().Stamp(one.CertifiedAt)})
}

// askRetire asks whether a bike is to be taken out of use.
func (v *visit) askRetire() error {
	page, err := v.getBike()
	if err != nil {
		return err
	}
	return v.view("bike-retire", "Take "+page.Title+" out of use?", page)
}

// retire takes a bike out of use.
func (v *visit) retire() error {
	if _, err := v.bikes.RetireBike(v.ctx, &pb.RetireBikeRequest{Name: v.bike()}); err != nil {
		page, found := v.getBike()
		if found != nil {
			return found
		}
		v.refuse(err, "bike-retire", "Take "+page.Title+" out of use?", page)
		return nil
	}
	return v.to("/"+v.asked()+"/bikes", "retired")
}
