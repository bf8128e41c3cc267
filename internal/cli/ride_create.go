package cli

import (
	"bytes"
	"slices"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/names"
	"gritward/internal/transport"
	"gritward/internal/waypoint"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideCreate() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "create --gpx FILE --title T --start \"YYYY-MM-DD HH:MM\" --meet TEXT --group ID:KMH",
		Short: "Create a ride from a route file",
		Long: "Creates a ride that members can join. The start is in the club's civil time. Distances are kilometres along\n" +
			"the route, paces km/h on a flat road in still air. Weather needs --temperature; what else is not given is not known.\n" +
			"\"gritward pace\" lists the figures that may be set for a group, for example steady:24,crr=0.008.",
		Example: "  gritward ride create --gpx moors.gpx --title \"Moors loop\" --start \"2026-12-13 09:00\" \\\n" +
			"    --meet \"Market cross\" --group steady:24:Steady,max=10,after=5 --group brisk:28 --stop 32.5:30:\"Mill cafe\" \\\n" +
			"    --hazard 12.4:\"Ford, may be under water\" --way-out 40:\"Station, trains every hour\" \\\n" +
			"    --temperature 3 --wind 18 --wind-from 250 --recently-wet --later \"12:00 temperature=5 wet=true\" \\\n" +
			"    --signup-closes \"2026-12-12 20:00\"",
		Args: cobra.NoArgs,
	}
	flags := addRideFlags(cmd.Flags())
	waypoints := waypointsFlag(cmd)
	needs(cmd, "gpx", "title", "start", "meet", "group")
	return a.online(cmd, func(s *session, _ []string) error {
		ride := &pb.Ride{}
		if _, err := flags.apply(s, ride); err != nil {
			return err
		}
		gpx, err := a.readGPX(flags.gpx)
		if err != nil {
			return err
		}
		var places []string
		if *waypoints {
			places = takenPlaces(ride, gpx)
		}
		zone, err := s.zone()
		if err != nil {
			return err
		}
		done := a.progress("sending " + flags.gpx)
		defer done()
		answer, err := s.rides.CreateRide(s.ctx, &pb.CreateRideRequest{Parent: s.clubName(), Ride: ride, RouteGpx: gpx,
			RequestId: requestID()})
		done()
		if err != nil {
			return err
		}
		known, err := s.people()
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			layRide(p, answer, zone, known)
			p.line("")
			for _, place := range places {
				p.line("%s", place)
			}
			layLeft(p, answer, flags.gpx, gpx)
			p.line("Next: gritward ride plan %s", names.Last(answer.GetName()))
		})
	})
}

func waypointsFlag(cmd *cobra.Command) *bool {
	return cmd.Flags().Bool("waypoints", false, "take stops, hazards and ways out from the file's waypoints too, by their type or name")
}

// layLeft tells which places of the route file the ride does not have: a ford that the file warns of is not to be
// missing from the brief unseen.
func layLeft(p *page, ride *pb.Ride, file string, gpx []byte) {
	var left []string
	for _, one := range waypoint.Take(proto.CloneOf(ride), bytes.NewReader(gpx)) {
		if one.Taken {
			left = append(left, one.Words)
		}
	}
	if len(left) == 0 {
		return
	}
	p.line("The route file names what the ride does not have, so that its brief does not tell it:")
	for _, one := range left {
		p.line("  %s", one)
	}
	p.line("To take that in: gritward ride change %s --gpx %s --waypoints", names.Last(ride.GetName()), transport.ForShell(file))
}

// takenPlaces takes a file's waypoints into a ride, and tells what became of each.
func takenPlaces(ride *pb.Ride, gpx []byte) []string {
	var told []string
	for _, one := range waypoint.Take(ride, bytes.NewReader(gpx)) {
		words := one.Words
		if one.Guessed {
			words += ", as its text does not say; change it with --stop"
		}
		told = append(told, words+".")
	}
	return told
}

// placed is an update mask with the lists that waypoints go into.
func placed(mask []string) []string {
	for _, list := range []string{"stops", "hazards", "ways_out"} {
		if !slices.Contains(mask, list) {
			mask = append(mask, list)
		}
	}
	return mask
}

func (a *app) rideChange() *cobra.Command {
	cmd := &cobra.Command{
		Use: "change RIDE", Short: "Change what is given of a ride, and nothing else",
		Long: "A list (--group, --stop, --hazard, --way-out, --later) that is given takes the place of the one there; a group that\n" +
			"stays keeps what is not said of it. --stop none empties a list. Weather that is not given stays as it was.\n" +
			"--waypoints with --gpx adds the file's stops, hazards and ways out to those there.",
		Example: "  gritward ride change 2026-12-13-moors --start \"2026-12-13 09:30\" --gust 65\n" +
			"  gritward ride change 2026-12-13-moors --gpx moors.gpx --waypoints", Args: cobra.ExactArgs(1),
	}
	flags := addRideFlags(cmd.Flags())
	waypoints := waypointsFlag(cmd)
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		ride, err := s.getRide(args[0])
		if err != nil {
			return err
		}
		had := ride.GetForecast()
		mask, err := flags.apply(s, ride)
		if err != nil {
			return err
		}
		request := &pb.UpdateRideRequest{Ride: ride, UpdateMask: &fieldmaskpb.FieldMask{Paths: mask}}
		if flags.gpx != "" {
			if request.RouteGpx, err = a.readGPX(flags.gpx); err != nil {
				return err
			}
		}
		var places []string
		if *waypoints {
			if flags.gpx == "" {
				return usagef("--waypoints needs the route file: --gpx FILE")
			}
			places = takenPlaces(ride, request.RouteGpx)
			request.UpdateMask.Paths = placed(mask)
			mask = request.UpdateMask.Paths
		}
		if len(mask) == 0 {
			if len(request.RouteGpx) == 0 {
				return usagef("nothing to change was given; see its flags")
			}
			request.UpdateMask.Paths = []string{"title"} // as it was: the protocol wants one field beside a route
		}
		done := a.progress("sending the change")
		defer done()
		answer, err := s.rides.UpdateRide(s.ctx, request)
		done()
		if err != nil {
			return err
		}
		known, err := s.people()
		if err != nil {
			return err
		}
		stale, err := s.stale(answer.GetName())
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			layRide(p, answer, zone, known)
			if had != nil && answer.GetForecast() == nil {
				p.line("")
				p.para(0, "! The forecast was taken out: it is not for the new start or route. Read another: gritward ride forecast %s", names.Last(answer.GetName()))
			}
			if len(request.RouteGpx) > 0 {
				p.line("")
				for _, place := range places {
					p.line("%s", place)
				}
				layLeft(p, answer, flags.gpx, request.RouteGpx)
			}
			stale(p)
		})
	})
}

func (a *app) rideCallOff() *cobra.Command {
	cmd := &cobra.Command{
		Use: "call-off RIDE --reason TEXT", Short: "Call a ride off, with the reason",
		Example: "  gritward ride call-off 2026-12-13-moors --reason \"Black ice on the lanes\"", Args: cobra.ExactArgs(1),
	}
	reason := cmd.Flags().String("reason", "", "why, told to everybody")
	needs(cmd, "reason")
	return a.online(cmd, func(s *session, args []string) error {
		ride, err := s.getRide(args[0])
		if err != nil {
			return err
		}
		answer, err := s.rides.CallOffRide(s.ctx, &pb.CallOffRideRequest{Name: ride.GetName(), Reason: *reason, Etag: ride.GetEtag()})
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			p.line("%s (%s) is called off: %s", answer.GetTitle(), names.Last(answer.GetName()), answer.GetCallOffReason())
			if answer.GetRosterNumber() > 0 {
				p.line("Issue %d of the roster says so.", answer.GetRosterNumber())
			}
			p.line("Tell everybody who signed up: gritward ride signups %s", names.Last(answer.GetName()))
		})
	})
}
