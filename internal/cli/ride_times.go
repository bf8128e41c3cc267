package cli

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"gritward/internal/names"
	"gritward/internal/pace"
	pb "gritward/proto/gritward/v1"
)

func (a *app) rideTimes() *cobra.Command {
	cmd := &cobra.Command{
		Use: "times [GROUP]", Short: "How long groups took for past rides, beside how long they were to take",
		Long: "Riding times without the planned stops. Planned is by pace alone; recorded comes from the roll call: from when the\n" +
			"group set off (as planned, where nobody was marked set-off) to the middle of its riders' home marks, of three at\n" +
			"least. Five rides of a group at nearly the same pace, the newest twenty of 400 days, make its time factor; a ride under\n" +
			"30 min, or that took under half or over twice what was planned, is left out.",
		Example: "  gritward ride times steady", Args: cobra.MaximumNArgs(1),
	}
	return a.online(cmd, func(s *session, args []string) error {
		zone, err := s.zone()
		if err != nil {
			return err
		}
		request := &pb.ListRecordedTimesRequest{Parent: s.clubName(), PageSize: pageSize}
		if len(args) == 1 {
			request.Group = args[0]
		}
		times, err := allPages(func(token string) ([]*pb.RecordedTime, string, error) {
			request.PageToken = token
			answer, err := s.rides.ListRecordedTimes(s.ctx, request)
			return answer.GetTimes(), answer.GetNextPageToken(), err
		})
		if err != nil {
			return err
		}
		slices.SortStableFunc(times, func(a, b *pb.RecordedTime) int { return cmp.Compare(a.GetGroup(), b.GetGroup()) })
		return a.answer(&pb.ListRecordedTimesResponse{Times: times}, func(p *page) { layTimes(p, times, zone) })
	})
}

func layTimes(p *page, times []*pb.RecordedTime, zone *time.Location) {
	clock := func(at interface{ AsTime() time.Time }) string { return at.AsTime().In(zone).Format("15:04") }
	var rows [][]string
	for _, one := range times {
		set := "as planned"
		if one.GetStartMarked() {
			set = "marked"
		}
		rows = append(rows, []string{one.GetGroup(), names.Last(one.GetRide()), number(one.GetPaceKmh()) + " km/h",
			clock(one.GetStartAt()) + " " + set, fmt.Sprintf("%s, %d riders", clock(one.GetHomeAt()), one.GetRidersHome()),
			hours(one.GetPlannedMin()), hours(one.GetTookMin()), percentMore(one.GetTookMin()/one.GetPlannedMin()) + prefixed("; left out: ", pastRide(one).LeftOut())})
	}
	p.list("no times are recorded yet: they come from rides with a roster whose riders were marked home",
		[]string{"group", "ride", "pace", "set off", "home", "planned", "recorded", ""}, rows)
}

func pastRide(one *pb.RecordedTime) pace.PastRide {
	minutes := func(min float64) time.Duration { return time.Duration(min * float64(time.Minute)) }
	return pace.PastRide{Start: one.GetStartAt().AsTime(), Planned: minutes(one.GetPlannedMin()), Took: minutes(one.GetTookMin())}
}

// hours writes minutes as H:MM.
func hours(minutes float64) string {
	whole := int(math.Round(minutes))
	return fmt.Sprintf("%d:%02d", whole/60, whole%60)
}

// percentMore is a ratio as "+4 %".
func percentMore(ratio float64) string {
	if percent := math.Round(100 * (ratio - 1)); percent != 0 {
		return fmt.Sprintf("%+.0f %%", percent)
	}
	return "on plan"
}

// recordedTimesOf reads what recorded times do to a ride's plan.
func recordedTimesOf(text string) (pb.PaceReckoning_Recorded, error) {
	switch text {
	case "policy":
		return pb.PaceReckoning_RECORDED_UNSPECIFIED, nil
	case "use":
		return pb.PaceReckoning_USE, nil
	case "show":
		return pb.PaceReckoning_SHOW, nil
	}
	return 0, usagef("--recorded-times %q is none of use, show, policy", text)
}

// recordedTimesWord is "" where the policy decides.
func recordedTimesWord(said pb.PaceReckoning_Recorded) string {
	return map[pb.PaceReckoning_Recorded]string{pb.PaceReckoning_USE: "used", pb.PaceReckoning_SHOW: "shown only"}[said]
}
