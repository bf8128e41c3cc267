package server

import (
	"context"
	"maps"
	"slices"
	"strings"
	"sync"

	"google.golang.org/protobuf/proto"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// On Saturday evening everybody reads the same roster. What is told of it is reckoned anew only when the store has changed,
// and put into bytes only when that changed what is told: for everybody alike who may know no more than others, once.

const (
	// mostAnswered is how many issues answers are kept of, and mostReaders of how many different readers of each: some MiB.
	mostAnswered = 8
	mostReaders  = 64
	// mostRead is of how many readers it is kept which answer is theirs.
	mostRead = 1024
)

// rosterAnswers are the answers to who reads rosters.
type rosterAnswers struct{ issues *cache[*rosterAnswer] }

func newRosterAnswers() rosterAnswers {
	return rosterAnswers{newCache[*rosterAnswer](mostAnswered)}
}

// of gives the answer about an issue.
func (a rosterAnswers) of(issue string) *rosterAnswer {
	answer, _ := a.issues.get(issue, func() (*rosterAnswer, error) { return &rosterAnswer{}, nil }) // never an error
	return answer
}

// rosterAnswer is what is told of one issue.
type rosterAnswer struct {
	mu sync.Mutex
	// version is that of the store that issue was read from, with all that is computed for it; record is the issue as it is stored, which is
	// shared; people are those whom it depends on the reader what it tells of.
	version uint64
	record  *pb.Roster
	issue   *pb.Roster
	people  []string
	// told are the answers as bytes, by whom of the people they tell all about.
	told map[string][]byte
	// readers are the answers by who reads, for as long as the store has that version.
	readers map[string][]byte
}

// seenBy is the issue as the caller may see it. It holds its bytes alone, which is all that sending it needs.
func (a *rosterAnswer) seenBy(tx *ledger.Tx, s *rideService, who *caller, ride *pb.Ride, number int32) (*pb.Roster, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if err := a.read(tx, s, names.Last(ride.Name), number); err != nil {
		return nil, err
	}
	data, ok := a.readers[who.member.Name]
	if !ok {
		may, err := privyTo(tx, who, ride, a.issue)
		if err != nil {
			return nil, err
		}
		var known []string
		for _, member := range a.people {
			if may(member) {
				known = append(known, member)
			}
		}
		if data, err = a.tell(known); err != nil {
			return nil, err
		}
		if len(a.readers) >= mostRead {
			clear(a.readers)
		}
		a.readers[who.member.Name] = data
	}
	answer := &pb.Roster{}
	answer.ProtoReflect().SetUnknown(data)
	return answer, nil
}

// tell is what is told of the issue to who may know all about some of its people: those, of people, in that order.
func (a *rosterAnswer) tell(known []string) ([]byte, error) {
	key := strings.Join(known, " ")
	if data, ok := a.told[key]; ok {
		return data, nil
	}
	data, err := proto.Marshal(roster.SeenBy(a.issue, func(member string) bool { return slices.Contains(known, member) }))
	if err != nil {
		return nil, err
	}
	if len(a.told) >= mostReaders {
		clear(a.told)
		clear(a.readers)
	}
	a.told[key] = data
	return data, nil
}

// again makes anew, for all who were told, what has changed.
func (a *rosterAnswer) again(ctx context.Context, tx *ledger.Tx, s *rideService, ride string, number int32) error {
	a.mu.Lock()
	defer a.mu.Unlock()
	readers, people := slices.Collect(maps.Keys(a.told)), a.people
	if err := a.read(tx, s, ride, number); err != nil || !slices.Equal(people, a.people) {
		return err
	}
	for _, known := range readers {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if _, err := a.tell(strings.Fields(known)); err != nil {
			return err
		}
	}
	return nil
}

// read reads the issue, unless it was read from the same version of the store.
func (a *rosterAnswer) read(tx *ledger.Tx, s *rideService, ride string, number int32) error {
	version := tx.Version()
	if a.issue != nil && version != 0 && version == a.version {
		return nil
	}
	record, err := tx.PeekRoster(ride, number)
	if err != nil {
		return err
	}
	issue := shallow(record)
	s.page(issue)
	if err := s.since(tx, ride, issue); err != nil {
		return err
	}
	a.readers = map[string][]byte{}
	if a.issue != nil && slices.Equal(issue.Since, a.issue.Since) && (record == a.record || proto.Equal(issue, a.issue)) {
		a.version, a.record = version, record
		return nil
	}
	people := map[string]bool{}
	blank := roster.SeenBy(issue, func(member string) bool { people[member] = true; return false }) // asks about everybody
	data, err := proto.Marshal(blank)
	if err != nil {
		return err
	}
	a.version, a.record = version, record
	a.issue, a.people, a.told = issue, slices.Sorted(maps.Keys(people)), map[string][]byte{"": data}
	return nil
}
