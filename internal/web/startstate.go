package web

import (
	"encoding/json"
	"net/http"
	"strconv"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// What the script of the start line keeps on the device, so that it tells the roll call without the server: what the roll
// call rests on, and the marks. Names are short, since much of it comes over a weak signal. Instants are µs since 1970, which
// a script's numbers hold exactly until the year 2255.

// lineState is how a ride stands, as a device keeps it.
type lineState struct {
	Me     string     `json:"me"`   // clubs/{club}/members/{member}
	Name   string     `json:"name"` // of me, as the club shows it
	Device string     `json:"device"`
	Ride   string     `json:"ride"`
	Now    int64      `json:"now"`
	Newest int64      `json:"newest"`
	Look   string     `json:"look"` // changes when the page has to be read anew
	Off    string     `json:"off"`  // why the ride is called off
	Basis  lineBasis  `json:"basis"`
	Marks  []lineMark `json:"marks"` // since the number asked for
	Whole  bool       `json:"whole"` // they are all there are: the number asked for was of another store
}

// lineBasis is a RollBasis; members are told by the last part of their names.
type lineBasis struct {
	Title    string        `json:"title"`
	Zone     string        `json:"zone"`
	Riders   []lineRider   `json:"riders"`
	Others   []lineRider   `json:"others"`
	Plans    []linePlan    `json:"plans"`
	Closings []lineClosing `json:"closings"`
	Grace    int64         `json:"grace"`
}

type lineRider struct {
	Member   string `json:"m"`
	Name     string `json:"n"`
	Group    string `json:"g,omitempty"`
	Order    int    `json:"o,omitempty"`
	Standing string `json:"st,omitempty"`
}

type linePlan struct {
	Group  string      `json:"g"`
	Title  string      `json:"t"`
	Start  int64       `json:"s"`
	Home   int64       `json:"h"`
	Length float64     `json:"d"`
	Points []linePoint `json:"p"`
}

type linePoint struct {
	At     int64   `json:"a"`
	Leaves int64   `json:"l,omitempty"`
	Along  float64 `json:"m"`
	What   string  `json:"w"`
}

type lineClosing struct {
	Group    string   `json:"g,omitempty"`
	Reopened bool     `json:"r,omitempty"`
	Open     []string `json:"o,omitempty"`
}

type lineMark struct {
	ID      string `json:"id"`
	Member  string `json:"m"`
	What    string `json:"w"`
	At      int64  `json:"t"`
	Device  string `json:"d,omitempty"`
	Note    string `json:"n,omitempty"`
	Group   string `json:"g,omitempty"`
	Strikes string `json:"s,omitempty"`
	Ahead   int64  `json:"ah,omitempty"`
	Number  int64  `json:"no,omitempty"`
}

func lineMicros(at *timestamppb.Timestamp) int64 {
	if !at.IsValid() {
		return 0
	}
	return at.AsTime().UnixMicro()
}

func lineBasisOf(from *pb.RollBasis) lineBasis {
	to := lineBasis{Title: from.GetTitle(), Zone: from.GetZone(), Grace: from.GetGrace().AsDuration().Microseconds(),
		Riders: lineRiders(from.GetRiders()), Others: lineRiders(from.GetOthers()), Plans: []linePlan{}, Closings: []lineClosing{}}
	for _, one := range from.GetPlans() {
		made := linePlan{Group: one.GetGroup(), Title: one.GetTitle(), Start: lineMicros(one.GetStartAt()), Home: lineMicros(one.GetHomeAt()),
			Length: one.GetDistanceM(), Points: []linePoint{}}
		for _, at := range one.GetPoints() {
			made.Points = append(made.Points, linePoint{lineMicros(at.GetAt()), lineMicros(at.GetLeavesAt()), at.GetDistanceM(), at.GetWhat()})
		}
		to.Plans = append(to.Plans, made)
	}
	for _, one := range from.GetClosings() {
		made := lineClosing{Group: one.GetGroup(), Reopened: one.GetReopened()}
		for _, member := range one.GetOpen() {
			made.Open = append(made.Open, names.Last(member))
		}
		to.Closings = append(to.Closings, made)
	}
	return to
}

func lineRiders(from []*pb.Expected) []lineRider {
	to := []lineRider{}
	for _, one := range from {
		to = append(to, lineRider{Member: names.Last(one.GetMember()), Name: one.GetDisplayName(), Group: one.GetGroup()})
	}
	return to
}

func lineMarks(from []*pb.Mark) []lineMark {
	to := []lineMark{}
	for _, one := range from {
		to = append(to, lineMark{ID: names.Last(one.GetName()), Member: names.Last(one.GetMember()), What: one.GetWhat().String(),
			At: rollcall.At(one).UnixMicro(), Device: one.GetDevice(), Note: one.GetNote(), Group: one.GetGroup(), Strikes: one.GetStrikes(),
			Ahead: one.GetClockAhead().AsDuration().Microseconds(), Number: one.GetNumber()})
	}
	return to
}

// startState tells how the ride stands, with the marks since a number.
func (v *visit) startState() error {
	state, err := v.lineState()
	return v.startAnswer(state, err)
}

func (v *visit) lineState() (*lineState, error) {
	call, err := v.rolls.GetRollCall(v.ctx, &pb.GetRollCallRequest{Name: v.ride()})
	if err != nil {
		return nil, err
	}
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return nil, err
	}
	lines, err := v.startLines(ride)
	if err != nil {
		return nil, err
	}
	state := &lineState{Me: v.me(), Name: v.who.GetMember().GetDisplayName(), Device: v.who.GetDevice().GetName(), Ride: v.ride(),
		Now: call.GetAsOf().AsTime().UnixMicro(), Newest: call.GetNewest(), Look: lookOf(ride), Off: ride.GetCallOffReason(), Basis: lineBasisOf(call.GetBasis())}
	for i, rider := range call.GetBasis().GetRiders() {
		known := lines.rider(&pb.RiderRoll{Member: rider.GetMember(), Group: rider.GetGroup()}, false)
		one := &state.Basis.Riders[i]
		one.Order, one.Standing = known.Order, known.Standing.String()
	}
	since, err := strconv.ParseInt(v.r.URL.Query().Get("since"), 10, 64)
	if err != nil || since < 0 || since > call.GetNewest() {
		since, state.Whole = 0, true
	}
	marks, err := v.startMarksSince(since)
	if err != nil {
		return nil, err
	}
	state.Marks = lineMarks(marks)
	return state, nil
}

// lookOf tells one look of the page from another, beside the marks: after the plan or the roster changed it is read anew.
func lookOf(ride *pb.Ride) string { return onceID(ride.GetEtag())[:9] }

// lineAnswer is what went wrong, for a script.
type lineAnswer struct {
	Reason string `json:"reason"`
	Words  string `json:"words"`
	// Refused: for what it says, and it would be again.
	Refused bool `json:"refused"`
	// Other: somebody else is signed in.
	Other bool `json:"other,omitempty"`
}

// startAnswer answers a script. Who is not signed in, and a failure of the server, are lineAnswer as on every page, by the status.
func (v *visit) startAnswer(made any, err error) error {
	if err == nil {
		return v.startJSON(http.StatusOK, made)
	}
	problem := fault.Read(err)
	if own := ownFault(err); own != nil {
		problem = own
	}
	switch problem.Reason {
	case pb.Reason_REASON_UNSPECIFIED, pb.Reason_INTERNAL, pb.Reason_NOT_SIGNED_IN:
		return err
	}
	status := statusOf(problem.Reason)
	refused := status == http.StatusUnprocessableEntity || status == http.StatusNotFound || status == http.StatusConflict && problem.Reason != pb.Reason_CHANGED_MEANWHILE
	return v.startJSON(status, lineAnswer{Reason: problem.Reason.String(), Words: inWords(problem), Refused: refused})
}

func (v *visit) startJSON(status int, made any) error {
	text, err := json.Marshal(made)
	if err != nil {
		return err
	}
	v.w.Header().Set("Content-Type", "application/json")
	v.w.Header().Set("Cache-Control", "no-store")
	v.w.WriteHeader(status)
	_, _ = v.w.Write(text)
	return nil
}

// lineInstant is a device's clock time, in ms since 1970, as an instant.
func lineInstant(ms int64) *timestamppb.Timestamp { return timestamppb.New(time.UnixMilli(ms)) }
