package render

import (
	"cmp"
	"fmt"
	"slices"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// SmallestMargins are the groups of rides that were planned home with least time before dark, as rows: day, ride, group,
// margin, lights, recorded against planned. At most most.
func SmallestMargins(r *pb.SeasonReport, most int) [][]string {
	type one struct {
		ride  *pb.SeasonRide
		group *pb.SeasonGroup
	}
	var all []one
	for _, ride := range r.GetRides() {
		if ride.GetOutcome() == pb.SeasonRide_CALLED_OFF {
			continue
		}
		for _, group := range ride.GetGroups() {
			if group.MarginMin != nil {
				all = append(all, one{ride, group})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b one) int { return cmp.Compare(a.group.GetMarginMin(), b.group.GetMarginMin()) })
	var rows [][]string
	for _, o := range all[:min(len(all), most)] {
		took := "not recorded"
		if o.group.TookMin != nil {
			took = fmt.Sprintf("%.0f min, planned %.0f", o.group.GetTookMin(), o.group.GetPlannedMin())
		}
		rows = append(rows, []string{seasonDay(r, o.ride.GetDay()), o.ride.GetTitle(), seasonGroupTitle(o.group), marginOf(o.group.GetMarginMin()),
			fmt.Sprintf("%.0f min", o.group.GetLitMin()), took})
	}
	return rows
}

func seasonGroupTitle(group *pb.SeasonGroup) string {
	return phrase.FirstOf(group.GetTitle(), group.GetGroup())
}

// marginOf tells a margin in words.
func marginOf(minutes float64) string {
	if minutes < 0 {
		return fmt.Sprintf("%.0f min after dark", -minutes)
	}
	return fmt.Sprintf("%.0f min before", minutes)
}
