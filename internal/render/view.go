package render

import (
	"html/template"
	"strconv"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// view is what the page shows, in words.
type view struct {
	CSS                         template.CSS
	Club, Title, When, Zone     string
	Place, Leader, Phone        string
	Issue, Policy, CalledOff    string
	Draft                       bool
	Running                     string      // head of a sheet on paper
	Code                        *Code       // of this page, on paper; nil where its address is not known
	Since                       []string    // changed since this issue
	Urgent                      []briefView // first line of each urgent section
	Light, WideLight            *drawing    // for a telephone; for a desk and paper
	Rows                        []overview
	Groups                      []groupView
	Idle                        []pair
	Unplaced                    []riderView
	Changes                     []string
	Overrides                   []pair
	Fixed                       []fixedView
	Conflicts                   []conflictView
	Brief                       []briefView
	Digest, PolicyDigest, Basis string
	Proof                       string
}

type pair struct{ Name, Words string }

type fixedView struct {
	pair
	Broken bool
}

type conflictView struct {
	Head        string
	Constraints []string
}

// overview is a group's line in the table of groups.
type overview struct {
	ID, Title, Pace, Start, Home, Light, Riders string
}

type briefView struct {
	ID, Title string
	First     string
	Lines     []string
	Urgent    bool
	// Carry: it tells what to bring.
	Carry bool
}

type groupView struct {
	ID, Title, Count string
	Running          string
	// Leader is who leads, Lights what lights it needs.
	Leader, Lights string
	Facts          []pair
	Single         bool // nobody rides on the right
	Rows           []rowView
	Alerts, Notes  []string
	Spoken         []string // what its leader says aloud
	Findings       []riderView
	plan           *pb.GroupPlan
}

type rowView struct {
	Number   int
	BackFrom string // stands above the first row with a rider who is sent to the back
	Left     *riderView
	Right    *riderView
}

type riderView struct {
	Name, Bike, Tags    string
	Kind, Shape, Word   string // of the standing, with its reasons in short
	Reasons             []string
	Findings            []findingView
	FindingCount, Waits string
	// Roles, and whether the rider is sent to the back.
	Leads, MarksBack, Back bool
	// Mine: it is who looks at the page.
	Mine bool
	// Aside is what the tags tell beside these roles.
	Aside string

	member string
}

type findingView struct {
	About, Word, Shape, Needed, Declared, Remedy, Because, Line string
}

func newView(s *sheet) *view {
	v := &view{
		Club: s.club(), Title: s.title(), When: phrase.FirstOf(s.watch.Stamp(s.start()), "At a time not known"), Zone: s.watch.Zone(),
		Place: s.GetRide().GetMeetingPoint(), Leader: s.GetLeaderName(), Phone: s.GetRide().GetLeaderPhone(),
		Issue: s.issue(), Policy: s.policy(), Draft: s.draft(), Running: s.running(), CalledOff: s.calledOff(),
		Since: s.GetSince(), Changes: s.GetChanges(),
		Digest: s.GetDigest(), PolicyDigest: s.GetPolicyDigest(), Basis: s.GetPlacement().GetBasis(), Proof: phrase.Proof(s.GetPlacement()),
	}
	for i, g := range s.GetPlacement().GetGroups() {
		view := s.groupView(g, "group-"+strconv.Itoa(i+1))
		v.Groups = append(v.Groups, view)
		v.Rows = append(v.Rows, s.overview(g, view.ID))
	}
	for _, g := range s.GetPlacement().GetIdle() {
		title, words := idleWords(g)
		v.Idle = append(v.Idle, pair{title, words})
	}
	for _, u := range s.GetPlacement().GetUnplaced() {
		v.Unplaced = append(v.Unplaced, s.unplacedView(u))
	}
	for _, o := range s.GetPlacement().GetOverrides() {
		name, words := s.overrideWords(o)
		v.Overrides = append(v.Overrides, pair{name, words})
	}
	for _, f := range s.GetPlacement().GetFixed() {
		name, words, broken := s.fixedWords(f)
		v.Fixed = append(v.Fixed, fixedView{pair{name, words}, broken})
	}
	for _, c := range s.conflicts() {
		head, constraints := conflictWords(c)
		v.Conflicts = append(v.Conflicts, conflictView{head, constraints})
	}
	if untold := s.untoldWords(); untold != "" {
		v.Conflicts = append(v.Conflicts, conflictView{untold, nil})
	}
	v.brief(s.GetBrief())
	return v
}

func (v *view) brief(b *pb.Brief) {
	for i, sec := range b.GetSections() {
		// The id of a section is not a person's text, but this page does not rely on it.
		bv := briefView{ID: "brief-" + strconv.Itoa(i+1), Title: phrase.FirstOf(sec.GetTitle(), sec.GetId(), "Brief"), Urgent: sec.GetUrgent(), Carry: sec.GetId() == "kit", Lines: sec.GetLines()}
		if bv.Urgent && len(bv.Lines) > 0 {
			bv.First, bv.Lines = bv.Lines[0], bv.Lines[1:]
			// Of a ride that is called off only that is to be read first.
			if v.CalledOff == "" {
				v.Urgent = append(v.Urgent, bv)
			}
		}
		v.Brief = append(v.Brief, bv)
	}
}
