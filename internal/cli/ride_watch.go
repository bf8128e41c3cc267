package cli

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideWatch() *cobra.Command {
	cmd := &cobra.Command{
		Use: "watch RIDE", Short: "Tell what happens to a ride, as it happens",
		Long: "One line for each change, with its number; --json writes one object a line. When the connection is lost it\n" +
			"waits for the server and goes on from the last change, so that none is missed and none comes twice.",
		Example: "  gritward ride watch 2026-12-13-moors\n  gritward ride watch 2026-12-13-moors --after 0",
		Args:    cobra.ExactArgs(1),
	}
	after := cmd.Flags().Int64("after", 0, "begin after this change; 0: from the first on (default from now on)")
	count := cmd.Flags().Int("changes", 0, "end after so many changes (default never)")
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		ride, err := s.rideName(args[0])
		if err != nil {
			return err
		}
		known, err := s.people()
		if err != nil {
			return err
		}
		request := &pb.WatchRideRequest{Name: ride}
		if cmd.Flags().Changed("after") {
			request.After = after
		}
		w := &watching{session: s, request: request, left: *count, zone: zone, known: known}
		for !w.ended {
			if err := w.once(); err != nil {
				return s.withRides(err)
			}
		}
		return nil
	})
}

// watching is a watch that goes on over lost connections.
type watching struct {
	*session
	request *pb.WatchRideRequest
	// left is how many changes are still to come; 0 or less: as many as there are.
	left  int
	ended bool
	zone  *time.Location
	known people
}

// once watches until the connection is lost, and then waits for the server.
func (w *watching) once() error {
	ctx, stop := context.WithCancel(w.ctx)
	defer stop()
	stream, err := w.rides.WatchRide(ctx, w.request)
	for err == nil && !w.ended {
		var change *pb.RideChange
		if change, err = stream.Recv(); err == nil {
			err = w.tell(change)
		}
	}
	switch {
	case w.ended:
		return nil
	case w.ctx.Err() != nil: // interrupted: that is how a watch without end ends
		w.ended = true
		return nil
	case err == io.EOF || status.Code(err) == codes.Unavailable:
		if w.request.After == nil || w.refused.Load() != nil { // it never began, or the server is not trusted any more
			return err
		}
		fmt.Fprintln(w.io.Err, "gritward: the server cannot be reached; waiting for it")
		w.waitReady(w.ctx, w.conn, maxPatience)
		return nil
	}
	return err
}

// maxPatience is for how long a watch waits for the server before it says again that it waits.
const maxPatience = 5 * time.Minute

// tell prints a change, and keeps its number.
func (w *watching) tell(change *pb.RideChange) error {
	number := change.GetNumber()
	w.request.After = &number
	if w.json {
		text, err := protojson.MarshalOptions{UseProtoNames: true}.Marshal(change)
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(w.io.Out, "%s\n", text); err != nil {
			return err
		}
	} else if err := w.print(func(p *page) { p.line("%s", w.words(change)) }); err != nil {
		return err
	}
	if change.GetNews() != pb.RideNews_WATCH_BEGUN && w.left > 0 {
		w.left--
		w.ended = w.left == 0
	}
	return nil
}

func (w *watching) words(change *pb.RideChange) string {
	at := when(change.GetAt(), w.zone)
	if change.GetNews() == pb.RideNews_WATCH_BEGUN {
		return fmt.Sprintf("%4d  %s  watching %s from here on", change.GetNumber(), at, names.Last(change.GetRecord()))
	}
	if change.GetWhat() == "" { // a guest is not told of others
		return fmt.Sprintf("%4d  %s  another rider's sign-up changed", change.GetNumber(), at)
	}
	who := "the leader"
	if member := names.Part(change.GetRecord(), "signups"); member != "" {
		who = w.known.name(w.clubName() + "/members/" + member)
	}
	return fmt.Sprintf("%4d  %s  %s %s", change.GetNumber(), at, who, change.GetWhat())
}
