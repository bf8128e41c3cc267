package cli

import (
	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/phrase"
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
	all := flags.Bool("all", false, "the rules that are met or do not apply, too, and advice at length")
	return a.online(cmd, func(s *session, args []string) error {
		for _, other := range []string{"lit", "wet", "date"} {
			if *ride != "" && flags.Changed(other) {
				return usagef("--ride and --%s do not go together: a ride has its own times and weather", other)
			}
		}
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
			if request.At, err = s.noon("date", *date); err != nil {
				return err
			}
		}
		answer, err := s.bikes.AssessBike(s.ctx, request)
		if err != nil {
			return s.withBikes(err, name)
		}
		lift, err := s.shortLift(name, request.GetRide(), answer.GetAssessments())
		if err != nil {
			return err
		}
		titles, err := s.titles(name, request.GetRide())
		if err != nil {
			return err
		}
		return a.answer(answer, func(p *page) {
			if *ride == "" {
				p.para(0, "%s", dayLooked(*date, *lit, *wet))
			}
			p.assessments(answer.GetAssessments(), titles, *all)
			layShortLift(p, s.shortBike(name), names.Last(request.GetRide()), lift)
		})
	})
}

// dayLooked tells for which conditions a bike is judged without a ride.
func dayLooked(date string, litMin float64, wet bool) string {
	road, lights := "on a dry road", "with no lights needed"
	if wet {
		road = "on a wet road"
	}
	if litMin > 0 {
		lights = "with lights needed for " + phrase.AtLeast(litMin)
	}
	return "For " + phrase.FirstOf(date, "today") + ", " + road + ", " + lights + "; --ride judges for a ride's own times and weather."
}
