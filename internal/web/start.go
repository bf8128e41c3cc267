package web

import (
	"cmp"
	"net/http"
	"slices"
	"strconv"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/render"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// The start line: sign-on, roll call, look over bikes, late start. With script its page works without a signal
// (static/start*.js, worker.js); without, everything here is a form.
func (s *site) startRoutes() {
	const at = "/clubs/{club}/rides/{ride}/start"
	s.mux.HandleFunc("GET /static/worker.js", s.worker)
	s.show("GET "+at, (*visit).start)
	s.show("GET "+at+"/riders/{member}", (*visit).startRider)
	s.show("GET "+at+"/all", (*visit).startAll)
	s.take(at+"/mark", (*visit).startMark)
	s.take(at+"/look", (*visit).startLook)
	s.take(at+"/contacts", (*visit).startContacts)
	s.take(at+"/close", (*visit).startClose)
	s.take(at+"/reopen", (*visit).startReopen)
	s.show("GET "+at+"/late", (*visit).startLate)
	s.take(at+"/late", (*visit).startPutBack)
	s.show("GET "+at+"/state", (*visit).startState)
	s.take(at+"/marks", (*visit).startMarks)
	s.take(at+"/looks", (*visit).startKeptLook)
}

// worker is the script that answers for the page of the start line without a signal. It may do so for pages outside its own
// folder (Service Workers, section 4.1, Service-Worker-Allowed); the page names the one that it does.
func (s *site) worker(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Service-Worker-Allowed", "/clubs/")
	w.Header().Set("Content-Type", "text/javascript; charset=utf-8")
	_, _ = w.Write(s.files.byName["worker.js"].content)
}

// startAt is the path of the start line's page, or of what lies below it.
func (v *visit) startAt(below string) string { return "/" + v.ride() + "/start" + below }

// startView is what the page of the start line shows.
type startView struct {
	Ride   *pb.Ride
	Call   *pb.RollCall
	Issue  int32
	Groups []startGroup
	// Own: who is here may put the start back and close the ride, Keeps: and close it all the same.
	Own, Keeps bool
	// Retry is the form that was refused because somebody is marked home too soon: it can be sent again as true.
	Retry []kept
}

// startTotals count the riders of the whole ride.
type startTotals struct{ NotSeen, SignedOn, Out, TurnedBack, Home, Overdue int32 }

// Totals counts who is where.
func (v *startView) Totals() (t startTotals) {
	for _, group := range v.Call.GetGroups() {
		t.NotSeen += group.GetNotSeen()
		t.SignedOn += group.GetSignedOn()
		t.Out += group.GetOut()
		t.TurnedBack += group.GetTurnedBack()
		t.Home += group.GetHome() + group.GetHandedOver()
		t.Overdue += group.GetOverdue()
	}
	return t
}

// At is the path of the page.
func (v *startView) At() string { return "/" + v.Ride.GetName() + "/start" }

// Off tells whether the ride is called off: nothing can be marked any more.
func (v *startView) Off() bool { return v.Ride.GetState() == pb.Ride_CALLED_OFF }

// MayBeLate tells whether the start may still be put back: until somebody has set off.
func (v *startView) MayBeLate() bool {
	return !v.Off() && !v.Call.GetClosed() && !slices.ContainsFunc(v.Call.GetGroups(), func(group *pb.GroupRoll) bool { return group.GetSetOffAt() != nil })
}

// Whole is the view itself, for pages that show more.
func (v *startView) Whole() *startView { return v }

// Doubts are what does not fit together, of riders and on the whole.
func (v *startView) Doubts() (said []string) {
	for _, rider := range v.Call.GetRiders() {
		for _, doubt := range rider.GetDoubts() {
			said = append(said, rider.GetDisplayName()+": "+phrase.Stopped(doubt))
		}
	}
	for _, doubt := range v.Call.GetDoubts() {
		said = append(said, phrase.Stopped(doubt))
	}
	return said
}

// Look tells one look of the page from another.
func (v *startView) Look() string { return lookOf(v.Ride) }

// startActions are the forms about one rider; without an id a script says which.
type startActions struct {
	sheet
	At, ID string
	Groups []*pb.Group
}

// actionsOn are the forms about a rider who is in a group.
func actionsOn(s sheet, view *startView, id, in string) startActions {
	made := startActions{sheet: s, At: view.At(), ID: id}
	for _, group := range view.Ride.GetGroups() {
		if group.GetId() != in || in == "" {
			made.Groups = append(made.Groups, group)
		}
	}
	return made
}

// startGroup is a group on the start line; without an id, the riders in none.
type startGroup struct {
	Roll   *pb.GroupRoll
	Plan   *pb.GroupPlan
	Riders []startRider
	// Late are the latest starts, in words, as reckoned for the newest issue.
	Late []string
	// Where the group is by its plan now, in words.
	Where string
}

// startRider is a rider on the start line.
type startRider struct {
	Roll *pb.RiderRoll
	// ID is the last part of the member's name.
	ID string
	// Order is the place in the riding order of the roster, from 1; 0: in none.
	Order int
	// Standing of the bike in the group, as things are now.
	Standing         pb.Standing
	Leads, MarksBack bool
	Bike             string
	// Since is when the last mark was made; At the path of the start line.
	Since, At string
	// off: the group has set off; none: nothing can be marked any more.
	off, none bool
}

// start shows the start line of a ride.
func (v *visit) start() error {
	view, err := v.startView()
	if err != nil {
		return err
	}
	return v.view("start", "Start line", view)
}

// startView reads what the start line shows.
func (v *visit) startView() (*startView, error) {
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
	keeps := v.has(pb.Role_SECRETARY)
	view := &startView{Ride: ride, Call: call, Issue: ride.GetRosterNumber(), Keeps: keeps, Own: keeps || ride.GetLeader() == v.me()}
	plans := map[string]*pb.GroupPlan{}
	for _, plan := range call.GetBasis().GetPlans() {
		plans[plan.GetGroup()] = plan
	}
	for _, roll := range call.GetGroups() {
		group := startGroup{Roll: roll, Plan: plans[roll.GetGroup()], Late: lines.late[roll.GetGroup()]}
		for _, rider := range call.GetRiders() {
			if rider.GetGroup() == roll.GetGroup() {
				made := lines.rider(rider, roll.GetSetOffAt() != nil)
				made.At, made.none = view.At(), view.Off()
				if rider.GetLast() != nil {
					made.Since = v.watch().Time(rollcall.At(rider.GetLast()))
				}
				group.Riders = append(group.Riders, made)
				group.Where = cmp.Or(group.Where, rider.GetPlanned())
			}
		}
		slices.SortStableFunc(group.Riders, func(a, b startRider) int {
			const last = 1 << 20 // who is not in the riding order
			return cmp.Or(cmp.Compare(cmp.Or(a.Order, last), cmp.Or(b.Order, last)), cmp.Compare(a.Roll.DisplayName, b.Roll.DisplayName))
		})
		view.Groups = append(view.Groups, group)
	}
	return view, nil
}

// startLines are what roster and sign-ups say about riders and groups.
type startLines struct {
	riders map[string]startRider
	// standing is that of each rider in each group, by "member group".
	standing map[string]pb.Standing
	late     map[string][]string
}

func (v *visit) startLines(ride *pb.Ride) (*startLines, error) {
	lines := &startLines{riders: map[string]startRider{}, standing: map[string]pb.Standing{}, late: map[string][]string{}}
	const most = 1000
	listed, err := v.rides.ListSignups(v.ctx, &pb.ListSignupsRequest{Parent: ride.GetName(), PageSize: most, WithoutFindings: true})
	if err != nil {
		return nil, err
	}
	for _, signup := range listed.GetSignups() {
		for _, one := range signup.GetStandings() {
			lines.standing[signup.GetMember()+" "+one.GetGroup()] = one.GetStanding()
		}
		if all := signup.GetStandings(); len(all) > 0 && !slices.ContainsFunc(all, func(one *pb.Assessment) bool { return one.GetStanding() != pb.Standing_HELD }) {
			lines.standing[signup.GetMember()+" "] = pb.Standing_HELD // in no group, and may start in none
		}
	}
	if ride.GetRosterNumber() == 0 {
		return lines, nil
	}
	issue, err := v.rides.GetRoster(v.ctx, &pb.GetRosterRequest{Name: ride.GetName() + "/rosters/-"})
	if err != nil {
		return nil, err
	}
	watch := v.watch()
	for _, group := range issue.GetPlacement().GetGroups() {
		lines.late[group.GetGroup()] = render.LatestStarts(issue.GetPlan(), group, watch)
		order := 0
		for _, row := range group.GetRows() {
			for _, rider := range []*pb.Rider{row.GetLeft(), row.GetRight()} {
				if rider == nil {
					continue
				}
				order++
				lines.riders[rider.GetMember()] = startRider{Order: order, Leads: rider.GetLeads(), MarksBack: rider.GetMarksBack(),
					Bike: rider.GetBikeTitle(), Standing: rider.GetStanding()}
			}
		}
	}
	return lines, nil
}

// rider is a rider with what roster and sign-ups say; off: the group has set off.
func (l *startLines) rider(roll *pb.RiderRoll, off bool) startRider {
	made := l.riders[roll.GetMember()]
	made.Roll, made.ID, made.off = roll, names.Last(roll.GetMember()), off
	if now, ok := l.standing[roll.GetMember()+" "+roll.GetGroup()]; ok {
		made.Standing = now
	}
	return made
}

// Whole is all that the line of a rider shows.
func (r startRider) Whole() (string, error) {
	return together(r.ID, r.At, r.Roll.GetDisplayName(), strconv.FormatBool(r.Roll.GetPlaced()), r.Roll.GetState().String(), r.Standing.String(),
		strconv.FormatBool(r.Leads), strconv.FormatBool(r.MarksBack), r.Since, r.Next().String()), nil
}

// Next is the mark that one tap makes; 0: none.
func (r startRider) Next() pb.Mark_What {
	if r.none {
		return pb.Mark_WHAT_UNSPECIFIED
	}
	return nextMark(r.Roll.GetState(), r.off)
}

// nextMark is what happens to a rider next in the ordinary run of a ride. A group is set off as a whole; who signs on after
// that is set off alone.
func nextMark(state pb.RiderRoll_State, off bool) pb.Mark_What {
	switch {
	case state == pb.RiderRoll_NOT_SEEN:
		return pb.Mark_SIGNED_ON
	case state == pb.RiderRoll_SIGNED_ON && off:
		return pb.Mark_SET_OFF
	case state == pb.RiderRoll_OUT || state == pb.RiderRoll_TURNED_BACK:
		return pb.Mark_HOME
	}
	return pb.Mark_WHAT_UNSPECIFIED
}

// mayTick are the states of whom a mark for all of a group is for; the later ones only where nobody is in one before.
var mayTick = map[pb.Mark_What][]pb.RiderRoll_State{
	pb.Mark_SIGNED_ON: {pb.RiderRoll_NOT_SEEN},
	pb.Mark_SET_OFF:   {pb.RiderRoll_SIGNED_ON, pb.RiderRoll_NOT_SEEN},
	pb.Mark_IN_GROUP:  {pb.RiderRoll_OUT, pb.RiderRoll_SIGNED_ON, pb.RiderRoll_NOT_SEEN},
	pb.Mark_HOME:      {pb.RiderRoll_OUT, pb.RiderRoll_SIGNED_ON},
}

// startAllView asks who of a group a mark is for.
type startAllView struct {
	sheet
	At, Title string
	What      pb.Mark_What
	Riders    []startTick
}

// startTick is a rider whom a mark may be for.
type startTick struct {
	startRider
	Ticked bool
}

// startAll asks who of a group is signed on, set off, there, or home: all but those who are unticked.
func (v *visit) startAll() error {
	view, err := v.startView()
	if err != nil {
		return err
	}
	what := pb.Mark_What(pb.Mark_What_value[v.r.URL.Query().Get("what")])
	for _, group := range view.Groups {
		if group.Roll.GetGroup() == v.r.URL.Query().Get("group") && mayTick[what] != nil {
			return v.view("startall", group.Roll.GetTitle()+": "+markWords[what], startAllView{At: view.At(), Title: group.Roll.GetTitle(), What: what, Riders: group.ticks(what)})
		}
	}
	return v.nowhere()
}

// ticks are the riders of a group, ticked where a mark for all of it is for them.
func (g startGroup) ticks(what pb.Mark_What) (ticks []startTick) {
	for _, state := range mayTick[what] {
		is := func(rider startRider) bool { return rider.Roll.GetState() == state }
		if ticks = nil; !slices.ContainsFunc(g.Riders, is) && state != pb.RiderRoll_NOT_SEEN {
			continue
		}
		for _, rider := range g.Riders {
			ticks = append(ticks, startTick{rider, is(rider)})
		}
		return ticks
	}
	for _, rider := range g.Riders {
		ticks = append(ticks, startTick{rider, false})
	}
	return ticks
}

// inSheet is the view with the sheet that it stands in, for the parts of a form.
func inSheet(s sheet, view startAllView) startAllView {
	view.sheet = s
	return view
}

// BlankAll is the form of startAll for a script to fill in.
func (v *startView) BlankAll() startAllView { return startAllView{At: v.At()} }
