package cli

import (
	"context"
	"crypto/rand"
	"errors"
	"time"

	"google.golang.org/grpc"

	"gritward/internal/settings"
	pb "gritward/proto/gritward/v1"
)

// session is one command's way to the server.
type session struct {
	*app
	ctx       context.Context
	set       settings.Client
	conn      *grpc.ClientConn
	clubs     pb.ClubServiceClient
	bikes     pb.BikeServiceClient
	policies  pb.PolicyServiceClient
	rides     pb.RideServiceClient
	personal  pb.PersonalServiceClient
	rolls     pb.RollCallServiceClient
	starts    pb.StartServiceClient
	incidents pb.IncidentServiceClient
	seasons   pb.SeasonServiceClient
	who       *pb.WhoAmIResponse // asked for once
}

// open reads the settings and connects with the device's token.
func (a *app) open(ctx context.Context) (*session, error) {
	set, err := settings.LoadClient(settings.Source{File: a.settingsFile, Flags: a.cmd.Flags()})
	if err != nil {
		return nil, err
	}
	if set.Token == "" {
		return nil, errors.New("this device is not signed in\n  next: gritward accept CODE, with a code from the club's secretary")
	}
	return a.connect(ctx, set)
}

func (a *app) connect(ctx context.Context, set settings.Client) (*session, error) {
	a.server = set.Server
	conn, err := a.dial(ctx, set)
	if err != nil {
		return nil, err
	}
	return &session{
		app: a, ctx: ctx, set: set, conn: conn,
		clubs: pb.NewClubServiceClient(conn), bikes: pb.NewBikeServiceClient(conn),
		policies: pb.NewPolicyServiceClient(conn), rides: pb.NewRideServiceClient(conn), personal: pb.NewPersonalServiceClient(conn),
		rolls: pb.NewRollCallServiceClient(conn), starts: pb.NewStartServiceClient(conn),
		incidents: pb.NewIncidentServiceClient(conn), seasons: pb.NewSeasonServiceClient(conn),
	}, nil
}

func (s *session) close() { _ = s.conn.Close() } // every call has been answered

// me asks, once, who the token belongs to.
func (s *session) me() (*pb.WhoAmIResponse, error) {
	if s.who != nil {
		return s.who, nil
	}
	who, err := s.clubs.WhoAmI(s.ctx, &pb.WhoAmIRequest{})
	s.who, s.self = who, who.GetMember()
	return who, err
}

// zone is the club's time zone, in which times are told.
func (s *session) zone() (*time.Location, error) {
	who, err := s.me()
	if err != nil {
		return nil, err
	}
	return time.LoadLocation(who.GetClub().GetZone())
}

// now is the time by the server's clock, by which it tells what is to come, where it has said who this is and when; otherwise this
// device's.
func (s *session) now() time.Time {
	if at := s.who.GetAt(); at != nil {
		return at.AsTime()
	}
	return s.io.Now()
}

// requestID is a word that no other call uses, so that a call sent twice counts once.
func requestID() string { return rand.Text() }
