package daylight

import (
	"fmt"
	"time"

	"gritward/internal/pace"
)

// Outing is a ride set off at one of a season's starts.
type Outing struct {
	Profile
	// LatestStart is [LatestHomeBy] on the civil day of the start; nil: no
	// start on that day brings the group home the margin before dark.
	LatestStart *time.Time
}

// Season is the ride of tl set off at each of the starts, each in the location
// of its start. The ride takes as long at every start as it does in tl, which
// is so for a ride planned in still air and on a dry road. The rule's margin is
// the one before dark that LatestStart keeps, too.
//
// It costs the plan nothing: the ride is planned once and only moved. It
// refuses what [Of] refuses; the error names the start.
func Season(tl *pace.Timeline, starts []time.Time, r Rule) ([]Outing, error) {
	if err := checkTimeline(tl); err != nil {
		return nil, err
	}
	if err := r.Validate(); err != nil {
		return nil, err
	}
	moved := tl.Shift(0) // one copy for all the starts
	outings := make([]Outing, 0, len(starts))
	for _, start := range starts {
		for i, in := range tl.Instants {
			moved.Instants[i].At = start.Add(in.At.Sub(tl.Start()))
		}
		outing, err := outingOf(moved, r)
		if err != nil {
			return nil, fmt.Errorf("daylight: the start %s: %w", start.Format(time.RFC3339), err)
		}
		outings = append(outings, outing)
	}
	return outings, nil
}

func outingOf(tl *pace.Timeline, r Rule) (Outing, error) {
	light, err := profile(tl, r, nil)
	if err != nil {
		return Outing{}, err
	}
	latest, ok, err := latestHomeBy(tl, r, r.Margin)
	if err != nil || !ok {
		return Outing{Profile: light}, err
	}
	return Outing{light, &latest}, nil
}
