package roster

import (
	"sync"
	"time"

	"gritward/internal/civil"
	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// mostStarts is of how many starts of groups it is kept how bikes stand, and mostBikes of how many bikes: where one more comes all are let go.
// Choices of this program: where the weather changes, a search for the latest start looks at some two hundred of each group.
const (
	mostStarts = 1500
	mostBikes  = 2000
)

// judged keeps how bikes stand in the groups of a ride from starts that were looked at, so that when one rider comes or goes the others are not
// judged again. It may be used by many goroutines.
type judged struct {
	mu     sync.Mutex
	day    string         // the day of judging and its zone; what is due ages by the day
	bikes  map[string]int // the places of bikes in stands, by their keys
	starts map[setOff]*fromThere
	// breaks are those between starts at which what standings rest on changes its course; no day counts in them.
	breaks map[span][]time.Time
}

// span is of starts of a group from one instant to another, ns.
type span struct {
	group    string
	from, to int64
}

// setOff is a group that sets off at an instant.
type setOff struct {
	group string
	unix  int64 // ns
}

// fromThere is the plan of a group from a start, and how bikes stand in it; 0: not known.
type fromThere struct {
	plan   *pb.GroupPlan
	stands []uint8
}

// keyOf is by what a rider's bike is known to be as it was, when it is judged on the same day; "": not at all. What is dated in the future is
// not looked at until then, within a day, too.
func keyOf(rider Entrant, now time.Time) string {
	if rider.Bike.GetDeclaration().GetCertifiedAt().AsTime().After(now) {
		return ""
	}
	for _, entry := range rider.Care {
		if entry.GetRecordedAt().AsTime().After(now) {
			return ""
		}
	}
	return rider.digest
}

// standings are those of the riders' bikes in a group from a start, and its plan, which is shared. keys are those of the riders; see keyOf.
func (j *judged) standings(book readiness.Book, start setOff, riders []Entrant, keys []string, now time.Time, plan func() (*pb.GroupPlan, error)) ([]pb.Standing, *pb.GroupPlan, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	day := now.Format(civil.DateLayout) + now.Location().String()
	if j.day != day || len(j.starts) >= mostStarts || len(j.bikes)+len(riders) > mostBikes {
		j.day, j.bikes, j.starts = day, map[string]int{}, map[setOff]*fromThere{}
	}
	from := j.starts[start]
	if from == nil {
		made, err := plan()
		if err != nil {
			return nil, nil, err
		}
		from = &fromThere{plan: made}
		j.starts[start] = from
	}
	all := make([]pb.Standing, len(riders))
	for i, rider := range riders {
		if keys[i] == "" {
			all[i] = readiness.Standing(book, rider.Subject(), from.plan, now)
			continue
		}
		stands := from.of(j.place(keys[i]))
		if *stands == 0 {
			*stands = uint8(readiness.Standing(book, rider.Subject(), from.plan, now))
		}
		all[i] = pb.Standing(*stands)
	}
	return all, from.plan, nil
}

// between are the breaks in a span; find finds them. They are shared.
func (j *judged) between(s span, find func() ([]time.Time, error)) ([]time.Time, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if found, known := j.breaks[s]; known {
		return found, nil
	}
	found, err := find()
	if err == nil {
		if j.breaks == nil || len(j.breaks) >= mostStarts {
			j.breaks = map[span][]time.Time{}
		}
		j.breaks[s] = found
	}
	return found, err
}

// place is the place of a bike.
func (j *judged) place(key string) int {
	at, known := j.bikes[key]
	if !known {
		at = len(j.bikes)
		j.bikes[key] = at
	}
	return at
}

// of is where it stands how the bike with that place stands.
func (f *fromThere) of(bike int) *uint8 {
	if bike >= len(f.stands) {
		f.stands = append(f.stands, make([]uint8, bike+1-len(f.stands))...)
	}
	return &f.stands[bike]
}
