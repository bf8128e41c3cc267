package web

import (
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"slices"
	"strings"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// startRiderView is what the page of one rider at the start line shows.
type startRiderView struct {
	*startView
	Group startGroup
	Rider startRider
	// Marks are those of the rider, newest first; struck ones too.
	Marks []startMarked
}

// startMarked is a mark in a list.
type startMarked struct {
	ID, At, Note string
	What         pb.Mark_What
	Group        string
	Struck       bool
}

// startRider shows one rider at the start line: everything that can be marked, and what was.
func (v *visit) startRider() error {
	view, err := v.riderView(v.r.PathValue("member"))
	if err != nil {
		return err
	}
	return v.view("startrider", view.Rider.Roll.GetDisplayName(), view)
}

func (v *visit) riderView(id string) (*startRiderView, error) {
	whole, err := v.startView()
	if err != nil {
		return nil, err
	}
	view := &startRiderView{startView: whole}
	for _, group := range whole.Groups {
		for _, rider := range group.Riders {
			if rider.ID == id {
				view.Group, view.Rider = group, rider
			}
		}
	}
	if view.Rider.Roll == nil {
		return nil, fault.New(pb.Reason_NOT_FOUND, "that member is not in the roll call of this ride")
	}
	marks, err := v.startMarksSince(0)
	if err != nil {
		return nil, err
	}
	struck, watch := map[string]bool{}, v.watch()
	for _, mark := range slices.Backward(marks) {
		if mark.GetMember() != view.Rider.Roll.GetMember() {
			continue
		}
		if mark.GetWhat() == pb.Mark_STRIKE {
			struck[mark.GetStrikes()] = true
			continue
		}
		id := names.Last(mark.GetName())
		view.Marks = append(view.Marks, startMarked{ID: id, At: watch.Time(rollcall.At(mark)), Note: mark.GetNote(), What: mark.GetWhat(),
			Group: mark.GetGroup(), Struck: struck[id]})
	}
	return view, nil
}

// startMarksSince are those of the ride with a greater number than since.
func (v *visit) startMarksSince(since int64) (marks []*pb.Mark, err error) {
	const page = 1000
	for {
		answer, err := v.rolls.ListMarks(v.ctx, &pb.ListMarksRequest{Parent: v.ride(), Since: since, PageSize: page})
		if err != nil {
			return nil, err
		}
		marks = append(marks, answer.GetMarks()...)
		if !answer.GetMore() || len(answer.GetMarks()) == 0 {
			return marks, nil
		}
		since = marks[len(marks)-1].GetNumber()
	}
}

// startMark records the marks of a form: one by its button, as "one" = "HOME member", or of several riders, "what" and "m".
func (v *visit) startMark() error {
	request, err := v.markForm()
	if err == nil {
		_, err = v.rolls.RecordMarks(v.ctx, request)
	}
	if err == nil {
		return v.toRider(request)
	}
	view, readErr := v.startView()
	if readErr != nil {
		return readErr
	}
	if fault.Read(err).Reason == pb.Reason_HOME_TOO_SOON {
		for _, name := range sortedKeys(v.form()) {
			for _, value := range v.form()[name] {
				view.Retry = append(view.Retry, kept{name, value})
			}
		}
	}
	v.refuse(err, "start", "Start line", view)
	return nil
}

// toRider leads back to where the rider stands in the list.
func (v *visit) toRider(request *pb.RecordMarksRequest) error {
	place := "#r-" + names.Last(request.GetMarks()[0].GetMember())
	if len(request.GetMarks()) > 1 {
		place = ""
	}
	http.Redirect(v.w, v.r, v.startAt("?done=marked"+place), http.StatusSeeOther)
	return nil
}

// markForm is what a form marks.
func (v *visit) markForm() (*pb.RecordMarksRequest, error) {
	form := v.form()
	word, members := form.Get("what"), form["m"]
	if one := form.Get("one"); one != "" {
		what, member, _ := strings.Cut(one, " ")
		word, members = what, []string{member}
	}
	what, ok := pb.Mark_What_value[word]
	if !ok || what == 0 {
		return nil, fault.Invalid("what", "say what happened")
	}
	if len(members) == 0 {
		return nil, fault.Invalid("m", "choose at least one rider")
	}
	at, err := v.statedTime(form.Get("at"))
	if err != nil {
		return nil, err
	}
	if pb.Mark_What(what) == pb.Mark_HANDED_OVER && strings.TrimSpace(form.Get("note")) == "" {
		return nil, fault.Invalid("note", "say to whom the rider is handed over, and where")
	}
	request := &pb.RecordMarksRequest{Parent: v.ride(), Early: form.Get("early") == "true"}
	for _, member := range members {
		mark := &pb.Mark{Member: names.Member(v.r.PathValue("club"), member), What: pb.Mark_What(what), Note: strings.ToValidUTF8(strings.TrimSpace(form.Get("note")), "\uFFFD"),
			At: at, TimeStated: at != nil, Strikes: form.Get("strikes")}
		if mark.What == pb.Mark_IN_GROUP {
			mark.Group = form.Get("group")
		}
		mark.Name = v.ride() + "/marks/" + onceID(form.Get("once"), word, member, mark.Group, mark.Strikes, mark.Note)
		request.Marks = append(request.Marks, mark)
	}
	return request, nil
}

// statedTime is a clock time on the day of the ride; nil: now.
func (v *visit) statedTime(clock string) (*timestamppb.Timestamp, error) {
	if clock == "" {
		return nil, nil
	}
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return nil, err
	}
	zone, err := civil.Zone("zone", v.watch().Zone())
	if err != nil {
		return nil, err
	}
	at, err := civil.Instant("at", ride.GetStartLocal()[:len(civil.DateLayout)]+"T"+clock, zone)
	return timestamppb.New(at), err
}

// onceID is an id of a mark that is the same for the same filling-in of a form, so that what is sent twice counts once.
func onceID(parts ...string) string {
	digest := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return "w" + hex.EncodeToString(digest[:12])
}

// startClose closes a group, or without one the ride.
func (v *visit) startClose() error {
	form := v.form()
	var err error
	if group := form.Get("group"); group != "" {
		_, err = v.rolls.CloseGroup(v.ctx, &pb.CloseGroupRequest{Name: v.ride(), Group: group, Reason: form.Get("reason")})
	} else {
		_, err = v.rolls.CloseRide(v.ctx, &pb.CloseRideRequest{Name: v.ride(), Reason: form.Get("reason")})
	}
	return v.backToStart(err, "closed")
}

// startReopen opens the roll call again.
func (v *visit) startReopen() error {
	_, err := v.rolls.ReopenRide(v.ctx, &pb.ReopenRideRequest{Name: v.ride(), Reason: v.form().Get("reason")})
	return v.backToStart(err, "reopened")
}

// backToStart leads back to the start line, or shows it with what stands in the way.
func (v *visit) backToStart(err error, done string) error {
	if err == nil {
		return v.to(v.startAt(""), done)
	}
	view, readErr := v.startView()
	if readErr != nil {
		return readErr
	}
	v.refuse(err, "start", "Start line", view)
	return nil
}

// startContactsView is whom to call about a rider.
type startContactsView struct {
	Back   string
	Riders []*pb.RiderContacts
	Until  string
}

// startContacts shows whom to call about a rider. Reading is recorded, and nothing of it is kept by the browser.
func (v *visit) startContacts() error {
	answer, err := v.personal.ReadRideContacts(v.ctx, &pb.ReadRideContactsRequest{Parent: v.ride(), Member: names.Member(v.r.PathValue("club"), v.form().Get("m"))})
	if err != nil {
		return err
	}
	v.w.Header().Set("Cache-Control", "no-store")
	return v.view("startcontacts", "Whom to call", startContactsView{v.startAt(""), answer.GetRiders(), v.watch().Stamp(answer.GetUntilAt())})
}
