package render

import (
	"html/template"
	"strconv"

	pb "gritward/proto/gritward/v1"
)

// RosterView is an issue of a roster in the words and pictures that a page of the club shows.
type RosterView struct {
	*view
	// Pictures are the groups' light, in the order of the groups: SVG with classes, so that a style sheet can colour it.
	Pictures []template.HTML
	// Mine is where who looks at the page rides; nil: nowhere.
	Mine *MySeat
}

// MySeat is one rider's place on the road, in words.
type MySeat struct {
	GroupID, Group, Leaves, Home string
	// Where is the place: "row 3, on the left". Before and Beside are names, empty for nobody.
	Where, Before, Beside string
	Seat                  *riderView
}

// ViewRoster is an issue as the member named me sees it; me may be empty.
func ViewRoster(r *pb.Roster, me string) (*RosterView, error) {
	s := newSheet(r)
	v := &RosterView{view: newView(s)}
	for i := range v.Groups {
		group := &v.Groups[i]
		drawn := newDrawing(&pb.RidePlan{
			SunriseAt: s.GetPlan().GetSunriseAt(), SunsetAt: s.GetPlan().GetSunsetAt(), CivilDawnAt: s.GetPlan().GetCivilDawnAt(), CivilDuskAt: s.GetPlan().GetCivilDuskAt(),
			DarkBeginsAt: s.GetPlan().GetDarkBeginsAt(), DarkEndsAt: s.GetPlan().GetDarkEndsAt(), Margin: s.GetPlan().GetMargin(), Groups: []*pb.GroupPlan{group.plan},
		}, s.watch, frame{id: "light-" + strconv.Itoa(i+1), width: narrowWidth})
		drawn.Patterns, drawn.Bare = "light-1", true
		picture, err := inSVG("light.svg.tmpl", drawn)
		if err != nil {
			return nil, err
		}
		v.Pictures = append(v.Pictures, picture)
		if me != "" {
			v.find(group, v.Rows[i], me)
		}
	}
	return v, nil
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
			v.Mine = &MySeat{GroupID: group.ID, Group: group.Title, Leaves: times.Start, Home: times.Home, Where: "row " + strconv.Itoa(row.Number), Seat: seat}
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
