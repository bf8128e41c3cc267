package cli

import (
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/civil"
	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"
)

func (a *app) bikeStanding() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "standing BIKE",
		Short: "Where a bike stands, and what to do to stand better",
		Long: "With --ride: in each group of that ride, at its own times. Without: on a day (today, or --date) with lights\n" +
			"needed for --lit minutes.",
		Example: "  gritward bike standing blue-winter-bike --ride 2026-12-13-moors\n" +
			"  gritward bike standing blue-winter-bike --lit 120 --wet",
		Args: cobra.ExactArgs(1),
	}
	flags := cmd.Flags()
	ride := flags.String("ride", "", "ride whose groups to look at")
	lit := flags.Float64("lit", 0, "minutes for which lights are needed, 0 to 1440")
	wet := flags.Bool("wet", false, "the road is wet")
	date := flags.String("date", "", "day to look at, YYYY-MM-DD, taken at noon (default now)")
	for _, other := range []string{"lit", "wet", "date"} {
		cmd.MarkFlagsMutuallyExclusive("ride", other)
	}
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.bikeName(args[0], "")
		if err != nil {
			return err
		}
		request := &pb.AssessBikeRequest{Name: name, LitMin: *lit, Wet: *wet}
		if *ride != "" {
			if request.Ride, err = s.rideName(*ride); err != nil {
				return err
			}
		}
		if *date != "" {
			if request.At, err = s.noon(*date); err != nil {
				return err
			}
		}
		answer, err := s.bikes.AssessBike(s.ctx, request)
		if err != nil {
			return s.withBikes(err, name)
		}
		return a.answer(answer, func(p *page) {
			p.assessments(answer.GetAssessments(), render.Titles{})
		})
	})
}

// noon is the middle of a civil day in the club's zone.
func (s *session) noon(date string) (*timestamppb.Timestamp, error) {
	zone, err := s.zone()
	if err != nil {
		return nil, err
	}
	on, err := civil.Date("--date", date)
	if err != nil {
		return nil, usagef("--date: %q is not a date; write it as 2026-12-13", date)
	}
	return timestamppb.New(time.Date(on.Year(), on.Month(), on.Day(), 12, 0, 0, 0, zone)), nil
}
