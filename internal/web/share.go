package web

import (
	"net/http"
	"strings"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/phrase"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (s *site) shareRoutes() {
	s.take("/clubs/{club}/rides/{ride}/share", (*visit).share)
	s.take("/clubs/{club}/rides/{ride}/unshare", (*visit).unshare)
	s.mux.HandleFunc("GET /shared/{key}", s.shared)
}

// shareView shows a link that was just made.
type shareView struct {
	Ride  *pb.Ride
	Share *pb.RosterShare
	// Link is the address to hand on.
	Link string
	Code *render.Code
}

// share makes the link to a roster. It is shown in the answer itself: its key is kept nowhere.
func (v *visit) share() error {
	ride, err := v.rides.GetRide(v.ctx, &pb.GetRideRequest{Name: v.ride()})
	if err != nil {
		return err
	}
	made, err := v.rides.ShareRoster(v.ctx, &pb.ShareRosterRequest{Parent: ride.Name})
	if err != nil {
		return err
	}
	v.w.Header().Set("Cache-Control", "no-store") // it lets whoever has it read
	link := v.Address + "/shared/" + made.Key
	return v.view("roster_link", "A link to the roster", shareView{ride, made, link, codeOf(link)})
}

// unshare takes it away.
func (v *visit) unshare() error {
	if _, err := v.rides.UnshareRoster(v.ctx, &pb.UnshareRosterRequest{Parent: v.ride()}); err != nil {
		return err
	}
	return v.to("/"+v.ride(), "unshared")
}

// unnamed stands for riders who did not agree to be named.
const unnamed = "a rider"

// shared shows a roster to whoever has the link. Nobody is looked for by what the browser keeps.
func (s *site) shared(w http.ResponseWriter, r *http.Request) {
	v := s.visitOf(w, r)
	h := w.Header()
	h.Set("X-Robots-Tag", "noindex, nofollow")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cache-Control", "no-store")
	answer, err := s.rides.ReadSharedRoster(v.ctx, &pb.ReadSharedRosterRequest{Key: r.PathValue("key")})
	if err != nil {
		if reason := fault.Read(err).Reason; reason == pb.Reason_FIELD_INVALID {
			err = fault.New(pb.Reason_NOT_FOUND, "this link opens nothing; look whether all of it was copied")
		}
		v.fail(err)
		return
	}
	roster := proto.CloneOf(answer.Roster) // what is in an answer is shared
	nameless(roster)
	view := rosterView{Roster: roster, Unnamed: true}
	watch := phrase.WatchOf(roster.Zone, roster.GetRide().GetStartAt())
	view.Live = liveRoster{Number: roster.Number, Made: watch.Local(s.Now()).Format("Monday 2 January, 15:04")}
	if answer.ChangedSince {
		view.Live.Since = []string{"Something has changed that is not in it yet: ask the club before you rely on it."}
	}
	if view.Sheet, err = v.sheetOf(roster, ""); err == nil {
		view.Route, err = drawn(&v.drawings, func() (*render.RoutePicture, error) {
			return render.DrawRoute(answer.Route, roster.Ride, runningPlans(roster), watch, "route", render.Tiles{})
		}, routeWeight, "shared", watch.Zone()+" "+watch.Day(), answer.Route, roster)
	}
	if err != nil {
		v.broken(err)
		return
	}
	v.put(http.StatusOK, "roster_shared", strings.TrimSpace(view.Sheet.Title), view)
}

// nameless calls those who are not named riders.
func nameless(roster *pb.Roster) {
	for _, group := range roster.GetPlacement().GetGroups() {
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider != nil && rider.DisplayName == "" {
					rider.DisplayName = unnamed
				}
			}
		}
	}
}
