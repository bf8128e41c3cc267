package web

import (
	"fmt"
	"strconv"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// lookedView is what a look over a bike changed.
type lookedView struct {
	Back, Again string
	Name        string
	Told        looked
}

// looked is what a look over a bike changed, in words.
type looked struct {
	// Groups is one line for each group, Do what to put right.
	Groups []string `json:"groups"`
	Do     []string `json:"do"`
	// Anew: the riders should be placed anew.
	Anew bool `json:"anew"`
}

// startLook records a look over a bike, and shows what it changes. Sent again, it is recorded once and shown again.
func (v *visit) startLook() error {
	form := v.form()
	request, err := v.lookRequest(form.Get, form.Get("once"))
	var answer *pb.RecordLookOverResponse
	if err == nil {
		answer, err = v.starts.RecordLookOver(v.ctx, request)
	}
	if err == nil {
		back := v.startAt("#r-" + form.Get("m"))
		return v.view("startlooked", "Looked over", lookedView{back, v.startAt("/riders/" + form.Get("m")), answer.GetDisplayName(), lookedWords(answer, v.groupTitles())})
	}
	view, readErr := v.riderView(form.Get("m"))
	if readErr != nil {
		return readErr
	}
	v.refuse(err, "startrider", view.Rider.Roll.GetDisplayName(), view)
	return nil
}

// sentLook is a look over a bike that a device kept: the form as it was filled in.
type sentLook struct {
	By string `json:"by"`
	ID string `json:"id"`
	// At is when it was done, Now what the device's clock shows as it sends, ms since 1970.
	At   int64             `json:"at"`
	Now  int64             `json:"now"`
	Form map[string]string `json:"form"`
}

// startKeptLook records a look over a bike that a device kept.
func (v *visit) startKeptLook() error {
	kept := &sentLook{}
	if err := v.startSent(kept); err != nil {
		return v.startAnswer(nil, err)
	}
	if kept.By != v.me() {
		return v.notTheirs()
	}
	request, err := v.lookRequest(func(name string) string { return kept.Form[name] }, kept.ID)
	if err != nil {
		return v.startAnswer(nil, err)
	}
	request.At, request.DeviceNow = lineInstant(kept.At), lineInstant(kept.Now)
	answer, err := v.starts.RecordLookOver(v.ctx, request)
	if err != nil {
		return v.startAnswer(nil, err)
	}
	return v.startAnswer(lookedWords(answer, v.groupTitles()), nil)
}

// lookRequest is what a form about a look over a bike asks for; once tells one filling-in from another.
func (v *visit) lookRequest(get func(string) string, once string) (*pb.RecordLookOverRequest, error) {
	request := &pb.RecordLookOverRequest{Parent: v.ride(), Member: names.Member(v.r.PathValue("club"), get("m")),
		Note: strings.ToValidUTF8(strings.TrimSpace(get("found_note")), "\uFFFD"), RequestId: once}
	switch get("do") {
	case "declared":
		return request, nil
	case "all_fixed":
		request.AllFixed = true
		return request, nil
	case "found", "fixed":
	default:
		return nil, fault.Invalid("do", "say whether it was found or is fixed")
	}
	fact := &pb.Found{What: pb.Found_What(pb.Found_What_value[get("found")]), End: pb.End(pb.End_value[get("end")])}
	if fact.What == 0 {
		return nil, fault.Invalid("found", "say what it is about")
	}
	if fact.End == 0 {
		return nil, fault.Invalid("end", "say at which end")
	}
	if get("do") == "fixed" {
		request.Fixed = []*pb.Found{fact}
		return request, nil
	}
	var err error
	switch fact.What {
	case pb.Found_LIGHT_LENT:
		if fact.RuntimeMin, err = decimal("runtime_min", get("runtime_min"), 1, 60_000); err == nil && fact.RuntimeMin == nil {
			err = fault.Invalid("runtime_min", "say for how many minutes the lamp lasts")
		}
	case pb.Found_PADS_WORN:
		fact.PadMm, err = decimal("pad_mm", get("pad_mm"), 0, 20)
	case pb.Found_LIGHT_DEAD:
		fact.Label = strings.TrimSpace(get("label"))
	}
	request.Found = []*pb.Found{fact}
	return request, err
}

// decimal reads a number within limits; nil where none is written.
func decimal(path, text string, least, most float64) (*float64, error) {
	text = strings.Replace(strings.TrimSpace(text), ",", ".", 1)
	if text == "" {
		return nil, nil
	}
	read, err := strconv.ParseFloat(text, 64)
	if err != nil || !(read >= least && read <= most) {
		return nil, fault.Invalid(path, "must be a number from %s to %s", phrase.Number(least, 1), phrase.Number(most, 1))
	}
	return proto.Float64(read), nil
}

// groupTitles are the titles of the ride's groups by their ids; the ids alone where they cannot be read.
func (v *visit) groupTitles() map[string]string {
	titles := map[string]string{}
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return titles // what was recorded is told all the same
	}
	for _, group := range ride.GetGroups() {
		titles[group.GetId()] = group.GetTitle()
	}
	return titles
}

// lookedWords tell what a look over a bike changed.
func lookedWords(answer *pb.RecordLookOverResponse, titles map[string]string) looked {
	told := looked{Groups: []string{}, Do: []string{}, Anew: answer.GetPlaceAnew()}
	asked := map[string]bool{}
	for i, after := range answer.GetAfter() {
		from, to := answer.GetBefore()[i].GetStanding(), after.GetStanding()
		words := phrase.StandingShape(to) + " " + phrase.Standing(to) + ", as before"
		if from != to {
			words = fmt.Sprintf("%s %s, was %s", phrase.StandingShape(to), phrase.Standing(to), phrase.Standing(from))
		}
		if after.GetGroup() == answer.GetGroup() {
			words += "; rides here"
		}
		told.Groups = append(told.Groups, phrase.FirstOf(titles[after.GetGroup()], after.GetGroup())+": "+words)
		for _, finding := range after.GetFindings() {
			if finding.GetStanding() == pb.Standing_CLEAR || asked[finding.GetRule()] || !strings.HasPrefix(finding.GetDeclared(), "looked over") {
				continue
			}
			asked[finding.GetRule()] = true
			told.Do = append(told.Do, fmt.Sprintf("Needs %s; %s. Do: %s", finding.GetNeeded(), finding.GetDeclared(), phrase.Stopped(finding.GetRemedy())))
		}
	}
	return told
}
