package render

import (
	"html/template"
	"strconv"

	pb "gritward/proto/gritward/v1"
)

// view is what the page shows, in words.
type view struct {
	CSS                         template.CSS
	Club, Title, When, Zone     string
	Place, Leader, Phone        string
	Issue, Policy, CalledOff    string
	Urgent                      []briefView // first line of each urgent section
	Light                       *drawing
	Rows                        []overview
	Groups                      []groupView
	Idle                        []pair
	Unplaced                    []riderView
	Changes                     []string
	Overrides                   []pair
	Brief                       []briefView
	Digest, PolicyDigest, Basis string
}

type pair struct{ Name, Words string }

// overview is a group's line in the table of groups.
type overview struct {
	ID, Title, Pace, Start, Home, Light, Riders string
}

type briefView struct {
	ID, Title string
	First     string
	Lines     []string
	Urgent    bool
}

type groupView struct {
	ID, Title, Count string
	Running          string // head of the group's sheet on paper
	Facts            []pair
	Single           bool // nobody rides on the right
	Rows             []rowView
	Notes            []string
	Findings         []riderView
}

type rowView struct {
	Number    int
	BackFirst bool // the first row with a rider at the back
	Left      *riderView
	Right     *riderView
}

type riderView struct {
	Name, Bike, Tags    string
	Kind, Shape, Word   string // of the standing
	Why                 string // in short
	Reasons             []string
	Findings            []findingView
	FindingCount, Waits string
}

type findingView struct {
	About, Word, Shape, Needed, Declared, Remedy, Because, Line string
}

func newView(s *sheet) *view {
	v := &view{
		Club: s.club(), Title: s.title(), When: firstOf(s.watch.stamp(s.start()), "At a time not known"), Zone: s.watch.zoneName(),
		Place: s.GetRide().GetMeetingPoint(), Leader: s.GetLeaderName(), Phone: s.GetRide().GetLeaderPhone(),
		Issue: s.issue(), Policy: s.policy(), Light: newDrawing(s.plan(), s.watch), Changes: s.GetChanges(),
		Digest: s.GetDigest(), PolicyDigest: s.GetPolicyDigest(), Basis: s.GetPlacement().GetBasis(),
	}
	if s.GetRide().GetState() == pb.Ride_CALLED_OFF {
		v.CalledOff = firstOf(s.GetRide().GetReason(), "No reason is given.")
	}
	for i, g := range s.GetPlacement().GetGroups() {
		view := s.groupView(g, "group-"+strconv.Itoa(i+1))
		v.Groups = append(v.Groups, view)
		v.Rows = append(v.Rows, s.overview(g, view.ID))
	}
	for _, g := range s.GetPlacement().GetIdle() {
		v.Idle = append(v.Idle, pair{firstOf(g.GetTitle(), g.GetGroup(), "Group without a title"), firstOf(g.GetWhy(), "no reason told")})
	}
	for _, u := range s.GetPlacement().GetUnplaced() {
		v.Unplaced = append(v.Unplaced, s.unplacedView(u))
	}
	for _, o := range s.GetOverrides() {
		words := "rule " + firstOf(o.GetRule(), "without a name") + " set aside: " + firstOf(o.GetReason(), "no reason told")
		if by := s.person(o.GetBy()); by != "" {
			words += " (" + by + ")"
		}
		v.Overrides = append(v.Overrides, pair{firstOf(s.person(o.GetMember()), "somebody"), words})
	}
	v.brief(s.GetBrief())
	return v
}

func (v *view) brief(b *pb.Brief) {
	for i, sec := range b.GetSections() {
		// The id of a section is not a person's text, but this page does not rely on it.
		bv := briefView{ID: "brief-" + strconv.Itoa(i+1), Title: firstOf(sec.GetTitle(), sec.GetId(), "Brief"), Urgent: sec.GetUrgent(), Lines: sec.GetLines()}
		if bv.Urgent && len(bv.Lines) > 0 {
			bv.First, bv.Lines = bv.Lines[0], bv.Lines[1:]
			// The route's first line says that the ride is called off, which stands above the list already.
			if sec.GetId() != "route" || v.CalledOff == "" {
				v.Urgent = append(v.Urgent, bv)
			}
		}
		v.Brief = append(v.Brief, bv)
	}
}

func (s *sheet) overview(g *pb.RosterGroup, id string) overview {
	p := s.groupPlan(g)
	light := againstDark(p)
	if p.GetLitMin() > 0 && light != "" {
		light += "; "
	}
	if p.GetLitMin() > 0 {
		light += lightWords(p)
	}
	return overview{
		ID: id, Title: groupTitle(g), Pace: number(p.GetPaceKmh(), 1), Start: s.watch.clock(p.GetStartAt()),
		Home: s.watch.clock(p.GetHomeAt()), Light: firstOf(light, "not known"), Riders: headCount(g),
	}
}

func (s *sheet) groupView(g *pb.RosterGroup, id string) groupView {
	p := s.groupPlan(g)
	v := groupView{ID: id, Title: groupTitle(g), Count: headCount(g), Notes: g.GetNotes(), Single: true}
	v.Running = s.club() + " · " + s.title() + " · " + firstOf(s.watch.date(s.start()), "no date") + " · issue " + strconv.Itoa(int(s.GetNumber()))
	v.Facts = []pair{
		{"Leader", firstOf(s.person(g.GetLeader()), "nobody named")},
		{"Back marker", firstOf(s.person(g.GetBackMarker()), "nobody named")},
		{"Leaves", s.watch.clock(p.GetStartAt())},
		{"Home", s.watch.clock(p.GetHomeAt())},
		{"Pace", number(p.GetPaceKmh(), 1) + " km/h on the flat"},
		{"Home and dark", firstOf(againstDark(p), "not known")},
		{"Lights", lightWords(p)},
	}
	if latest := p.GetLatestStartAt(); latest.IsValid() {
		v.Facts = append(v.Facts, pair{"Latest start", s.watch.clock(latest)})
	}
	behind := false
	for i, row := range g.GetRows() {
		rv := rowView{Number: i + 1, BackFirst: !behind && hasBack(row)}
		behind = behind || rv.BackFirst
		for _, side := range []struct {
			rider *pb.Rider
			to    **riderView
		}{{row.GetLeft(), &rv.Left}, {row.GetRight(), &rv.Right}} {
			if side.rider == nil {
				continue
			}
			r := s.riderView(side.rider)
			*side.to = &r
			if len(r.Findings) > 0 {
				v.Findings = append(v.Findings, r)
			}
		}
		v.Single = v.Single && rv.Right == nil
		v.Rows = append(v.Rows, rv)
	}
	return v
}

func (s *sheet) riderView(r *pb.Rider) riderView {
	return riderView{
		Name: s.rider(r), Bike: r.GetBikeTitle(), Tags: tags(r), Kind: standingKind(r.GetStanding()),
		Shape: standingShape(r.GetStanding()), Word: standingWord(r.GetStanding()), Why: reasons(r.GetFindings()),
		Findings: findingViews(r.GetFindings()), FindingCount: counted(len(unmet(r.GetFindings())), "finding", "findings"),
	}
}

func (s *sheet) unplacedView(u *pb.Unplaced) riderView {
	v := riderView{
		Name: s.unplaced(u), Bike: u.GetBikeTitle(), Reasons: u.GetWhy(), Findings: findingViews(u.GetFindings()),
		FindingCount: counted(len(unmet(u.GetFindings())), "finding", "findings"),
	}
	if u.GetWaiting() {
		v.Waits = "waits for a place"
	}
	return v
}

func findingViews(fs []*pb.Finding) []findingView {
	var out []findingView
	for _, f := range unmet(fs) {
		v := findingView{
			About: about(f), Word: standingWord(f.GetStanding()), Shape: standingShape(f.GetStanding()),
			Needed: firstOf(f.GetNeeded(), "what rule "+f.GetRule()+" says"), Declared: declared(f), Remedy: f.GetRemedy(), Because: f.GetBecause(),
		}
		if f.GetPolicyLine() > 0 {
			v.Line = strconv.Itoa(int(f.GetPolicyLine()))
		}
		out = append(out, v)
	}
	return out
}

// standingKind is the name of a standing in the style sheet.
func standingKind(s pb.Standing) string {
	if s == pb.Standing_STANDING_UNSPECIFIED || s > pb.Standing_HELD {
		return "none"
	}
	return standingWord(s)
}
