// Package web serves pages to members, leaders and secretaries. It is a client of the server like any other: what a page
// shows was answered to the person who looks at it, and what a form does is a call in that person's name. Pages are made
// here and need no script; a little of it keeps them fresh, answers while a form is filled in, and lets the page of the
// start line work without a signal.
package web

import (
	"context"
	"log/slog"
	"net/http"
	"net/url"
	"time"

	"google.golang.org/grpc"

	pb "gritward/proto/gritward/v1"
)

// Config is what the pages need.
type Config struct {
	// Conn calls the server.
	Conn grpc.ClientConnInterface
	// CallFor has calls measured as coming from an address, host:port or a host alone; nil: they are not.
	CallFor func(ctx context.Context, remote string) context.Context
	// Address is where browsers find the pages, https://host or http://127.0.0.1:port, without / at the end.
	Address string
	// Proxied tells that another server, which takes the calls from browsers, says in X-Forwarded-For whom they come from.
	Proxied bool
	// TilesAddress is that of map tiles to lay under routes, with {z}, {x} and {y} in it, and TilesCredit whose they are; empty:
	// none are.
	TilesAddress, TilesCredit string
	// WeatherService tells that the server is set up to ask a weather service.
	WeatherService bool
	// Beat is how often a page that keeps itself fresh hears from the server; 0: as often as is usual.
	Beat time.Duration
	// Log is where failures go that a page cannot tell.
	Log *slog.Logger
	// Now is the clock.
	Now func() time.Time
	// Ending ends when the server is to stop: pages that keep themselves fresh are let go. Nil: it never does.
	Ending context.Context
}

// site is what all pages share. Nothing but what says so changes after New.
type site struct {
	Config
	clubs     pb.ClubServiceClient
	bikes     pb.BikeServiceClient
	policies  pb.PolicyServiceClient
	rides     pb.RideServiceClient
	rolls     pb.RollCallServiceClient
	starts    pb.StartServiceClient
	personal  pb.PersonalServiceClient
	incidents pb.IncidentServiceClient
	seasons   pb.SeasonServiceClient

	host   string
	secure bool
	mux    *http.ServeMux
	looks  looks
	files  *files
	// drawings and watching change all the time.
	drawings drawings
	watching watching
}

// New makes the pages. The error is about what they are made of, or about the address.
func New(config Config) (http.Handler, error) {
	at, err := url.Parse(config.Address)
	if err != nil {
		return nil, err
	}
	if config.Ending == nil {
		config.Ending = context.Background()
	}
	if config.CallFor == nil {
		config.CallFor = func(ctx context.Context, _ string) context.Context { return ctx }
	}
	config.Conn = newAnswered(config.Conn)
	s := &site{
		Config: config,
		clubs:  pb.NewClubServiceClient(config.Conn), bikes: pb.NewBikeServiceClient(config.Conn),
		policies: pb.NewPolicyServiceClient(config.Conn), rides: pb.NewRideServiceClient(config.Conn),
		rolls: pb.NewRollCallServiceClient(config.Conn), starts: pb.NewStartServiceClient(config.Conn),
		personal: pb.NewPersonalServiceClient(config.Conn), incidents: pb.NewIncidentServiceClient(config.Conn),
		seasons: pb.NewSeasonServiceClient(config.Conn),
		host:    at.Host, secure: at.Scheme == "https", mux: http.NewServeMux(), watching: watching{of: map[string]int{}},
	}
	if s.files, err = readFiles(); err != nil {
		return nil, err
	}
	if s.looks, err = readLooks(s.files); err != nil {
		return nil, err
	}
	s.routes()
	return traced(s.guarded(s.mux)), nil
}

// routes says which page is where. Records have their pages at their names.
func (s *site) routes() {
	s.mux.HandleFunc("GET /static/{file}", s.files.serve)
	s.entranceRoutes()
	s.homeRoutes()
	s.bikeRoutes()
	s.rideRoutes()
	s.rosterRoutes()
	s.leaderRoutes()
	s.startRoutes()
	s.clubRoutes()
	s.show("/", (*visit).nowhere)
}
