package render

import (
	"html/template"
	"strconv"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// RosterView is an issue of a roster in the words and pictures that a page of the club shows.
type RosterView struct {
	*view
	// Lights are what the pictures of the groups' light are drawn from, in the order of the groups, and Pictures these pictures. Whoever
	// shows them draws them, and Code, the code of the address PageURL of the issue: the same for everybody.
	Lights   []GroupLight
	Pictures []template.HTML
	PageURL  string
	// Mine is where who looks at the page rides; nil: nowhere.
	Mine *MySeat
	// me looks at it; digest tells the issue from others.
	me, digest string
	digestErr  error
}

// MySeat is one rider's place on the road, in words.
type MySeat struct {
	GroupID, Group, Leaves, Home string
	// Leader is who leads the group, Lights what lights it needs.
	Leader, Lights string
	// Where is the place: "row 3, on the left". Before and Beside are names, empty for nobody.
	Where, Before, Beside string
	Seat                  *riderView
}

// ViewRoster is an issue as the member named me sees it; me may be empty.
func ViewRoster(r *pb.Roster, me string) *RosterView {
	s := newSheet(r)
	v := &RosterView{view: newView(s), PageURL: s.GetPageUrl(), me: me}
	v.digest, v.digestErr = digestOf(r)
	for i := range v.Groups {
		group := &v.Groups[i]
		v.Lights = append(v.Lights, GroupLight{ID: "light-" + strconv.Itoa(i+1), Plan: lightOf(s.GetPlan(), group.plan), watch: s.watch})
		if me != "" {
			v.find(group, v.Rows[i], me)
		}
	}
	return v
}

// GroupLight is what the picture of a group's light is drawn from.
type GroupLight struct {
	// ID begins every id in the picture; the first is light-1, whose patterns all use.
	ID string
	// Plan is the plan of the group alone, with the sun.
	Plan  *pb.RidePlan
	watch phrase.Watch
}

// Watch is the zone and the day of the times in the picture, in one word.
func (g GroupLight) Watch() string { return g.watch.Zone() + " " + g.watch.Day() }

// Draw draws it: SVG with classes, so that a style sheet can colour it.
func (g GroupLight) Draw() (template.HTML, error) {
	drawn := newDrawing(g.Plan, g.watch, frame{id: g.ID, width: narrowWidth})
	drawn.Patterns, drawn.Bare = "light-1", true
	return inSVG("light.svg.tmpl", drawn)
}

// lightOf is of a plan what pictures of the light are drawn from, for some of its groups.
func lightOf(plan *pb.RidePlan, groups ...*pb.GroupPlan) *pb.RidePlan {
	return &pb.RidePlan{
		SunriseAt: plan.GetSunriseAt(), SunsetAt: plan.GetSunsetAt(), CivilDawnAt: plan.GetCivilDawnAt(), CivilDuskAt: plan.GetCivilDuskAt(),
		DarkBeginsAt: plan.GetDarkBeginsAt(), DarkEndsAt: plan.GetDarkEndsAt(), Margin: plan.GetMargin(), Groups: groups,
	}
}

// find marks the seat of a member in a group, if it is there.
func (v *RosterView) find(group *groupView, times overview, me string) {
	for i := range group.Rows {
		row := &group.Rows[i]
		for _, seat := range []*riderView{row.Left, row.Right} {
			if seat == nil || seat.member != me {
				continue
			}
			seat.Mine = true
			v.Mine = &MySeat{GroupID: group.ID, Group: group.Title, Leaves: times.Start, Home: times.Home, Leader: group.Leader, Lights: group.Lights, Where: "row " + strconv.Itoa(row.Number), Seat: seat}
			beside, side := row.Right, "on the left"
			if seat == row.Right {
				beside, side = row.Left, "on the right"
			}
			if beside != nil {
				v.Mine.Where, v.Mine.Beside = v.Mine.Where+", "+side, beside.Name
			}
			if i > 0 {
				before := group.Rows[i-1].Left
				if seat == row.Right && group.Rows[i-1].Right != nil {
					before = group.Rows[i-1].Right
				}
				if before != nil {
					v.Mine.Before = before.Name
				}
			}
		}
	}
}
