package render

import (
	"slices"
	"time"

	pb "gritward/proto/gritward/v1"

	"google.golang.org/protobuf/types/known/timestamppb"
)

// skyBand is a time of one sky at the route's start.
type skyBand struct {
	period
	sky pb.LightSpan_Sky
}

// skyBands are the skies from end to end. A plan tells dawn, sunrise, sunset and dusk of one day; the days beside it are
// drawn alike, as sun times move by few minutes a day. Where the sun does not cross the horizon nor the twilight, the
// groups' own light tells the sky.
func skyBands(p *pb.RidePlan, from, to time.Time) []skyBand {
	type change struct {
		at            time.Time
		before, after pb.LightSpan_Sky
	}
	var changes []change
	add := func(at *timestamppb.Timestamp, before, after pb.LightSpan_Sky) {
		if !at.IsValid() {
			return
		}
		for day := -5; day <= 5; day++ {
			changes = append(changes, change{at.AsTime().Add(time.Duration(day) * 24 * time.Hour), before, after})
		}
	}
	add(p.GetCivilDawnAt(), pb.LightSpan_NIGHT, pb.LightSpan_TWILIGHT)
	add(p.GetSunriseAt(), pb.LightSpan_TWILIGHT, pb.LightSpan_DAY)
	add(p.GetSunsetAt(), pb.LightSpan_DAY, pb.LightSpan_TWILIGHT)
	add(p.GetCivilDuskAt(), pb.LightSpan_TWILIGHT, pb.LightSpan_NIGHT)
	if len(changes) == 0 {
		return wholeSky(p, from, to)
	}
	slices.SortFunc(changes, func(a, b change) int { return a.at.Compare(b.at) })
	var bands []skyBand
	at, sky := from, changes[0].before
	for _, c := range changes {
		if !c.at.After(from) {
			sky = c.after
			continue
		}
		if !c.at.Before(to) {
			break
		}
		if len(bands) == 0 && at.Equal(from) {
			sky = c.before
		}
		bands = append(bands, skyBand{period{at, c.at}, sky})
		at, sky = c.at, c.after
	}
	return append(bands, skyBand{period{at, to}, sky})
}

// wholeSky is one sky from end to end: the first that a group's light tells.
func wholeSky(p *pb.RidePlan, from, to time.Time) []skyBand {
	for _, g := range p.GetGroups() {
		for _, l := range g.GetLight() {
			if l.GetSky() != pb.LightSpan_SKY_UNSPECIFIED {
				return []skyBand{{period{from, to}, l.GetSky()}}
			}
		}
	}
	return nil
}

// skyWord is the word for a sky.
func skyWord(s pb.LightSpan_Sky) string {
	switch s {
	case pb.LightSpan_DAY:
		return "day"
	case pb.LightSpan_TWILIGHT:
		return "twilight"
	case pb.LightSpan_NIGHT:
		return "night"
	}
	return ""
}
