package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"maps"
	"slices"
	"sync/atomic"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// RollWatch tells leaders and secretaries who is overdue. What was told is a record, written with the notice in one
// transaction: however often the server is stopped, nobody is told twice, and nobody is missed.
type RollWatch struct {
	desk *desk
	log  *slog.Logger
	// looked is when all rides under way were last looked at without a fault, Unix s, and overdue how many riders were overdue then.
	looked, overdue atomic.Int64
}

// Overdue is how many riders were overdue when it last looked, and when that was; the zero time: it never did.
func (w *RollWatch) Overdue() (riders int, looked time.Time) {
	if at := w.looked.Load(); at != 0 {
		looked = time.Unix(at, 0)
	}
	return int(w.overdue.Load()), looked
}

// NewRollWatch makes a watch; server.New gives it what it looks at.
func NewRollWatch() *RollWatch { return &RollWatch{} }

func (w *RollWatch) join(d *desk, log *slog.Logger) { w.desk, w.log = d, log }

// Run looks now and then every so often, until the context ends. What goes wrong is logged, and tried again.
func (w *RollWatch) Run(ctx context.Context, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if err := w.Look(ctx); err != nil && ctx.Err() == nil {
			w.log.Error("who is overdue could not be told", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// Look tells who is to be told by the ledger's clock. It reads the rides under way, whose keys are on the agenda, and nothing of
// clubs that have none. A club that cannot be read keeps no other from it; the first error is given.
func (w *RollWatch) Look(ctx context.Context) error {
	now := w.desk.ledger.Now()
	due, err := w.desk.ledger.Due(ctx, ledger.DueRide, now.Add(-ledger.WatchReach), now)
	if err != nil {
		return err
	}
	of := map[string][]ledger.Due{}
	for _, ride := range due {
		of[ride.Club] = append(of[ride.Club], ride)
	}
	var first error
	all := 0
	for _, club := range slices.Sorted(maps.Keys(of)) {
		overdue, err := w.lookAt(ctx, club, of[club])
		if all += overdue; err != nil && first == nil {
			first = err
		}
	}
	w.overdue.Store(int64(all))
	if first == nil {
		w.looked.Store(now.Unix())
	}
	return first
}

// lookAt looks at rides of a club that have begun, and writes only where there is something to tell, or nothing more to look
// for. A ride that cannot be reckoned keeps no other from it. It tells how many riders are overdue.
func (w *RollWatch) lookAt(ctx context.Context, club string, rides []ledger.Due) (overdue int, failed error) {
	var changed []ledger.Due
	err := w.desk.ledger.View(ctx, club, func(tx *ledger.Tx) error {
		for _, due := range rides {
			found, err := w.desk.lookedAt(tx, due)
			if overdue += found.overdue; found.done || len(found.notices) > 0 {
				changed = append(changed, due)
			}
			failed = errors.Join(failed, about(due.ID, err))
			if ctx.Err() != nil {
				return ctx.Err()
			}
		}
		return nil
	})
	failed = errors.Join(failed, err)
	for _, due := range changed {
		failed = errors.Join(failed, about(due.ID, w.tellOf(ctx, club, due)))
	}
	return overdue, failed
}

// about says which ride an error is about.
func about(ride string, err error) error {
	if err != nil {
		err = fmt.Errorf("%s: %w", ride, err)
	}
	return err
}

// tellOf writes the notices of a ride that are due, or takes it off the agenda.
func (w *RollWatch) tellOf(ctx context.Context, club string, due ledger.Due) error {
	return w.desk.ledger.Update(ctx, club, func(tx *ledger.Tx) error {
		found, err := w.desk.lookedAt(tx, due)
		if err != nil {
			return err
		}
		if found.done {
			return tx.Unwatch(due)
		}
		for _, notice := range found.notices {
			if err := w.desk.notify(tx, found.ride, notice); err != nil {
				return err
			}
		}
		if len(found.notices) == 0 {
			return nil
		}
		return tx.Append(&pb.AuditEntry{Actor: byServer, Method: "roll call", Resource: found.ride.Name, What: "told who is overdue"})
	})
}

// watched tells whether it is looked for who of a ride is overdue: it began, not too long ago, and is not called off.
func watched(tx *ledger.Tx, ride *pb.Ride) bool {
	began := tx.Now.Sub(ride.StartAt.AsTime())
	return ride.State != pb.Ride_CALLED_OFF && began >= 0 && began < ledger.WatchReach
}

// lookedAt is what was found of a ride under way.
type lookedAt struct {
	ride    *pb.Ride
	notices []*pb.Notice
	overdue int
	// done: nobody can be overdue any more, unless something is written, which puts the ride on the agenda again.
	done bool
}

// lookedAt looks at a ride that is on the agenda.
func (d *desk) lookedAt(tx *ledger.Tx, due ledger.Due) (found lookedAt, err error) {
	found.ride, err = tx.Ride(due.ID)
	if fault.Is(err, pb.Reason_NOT_FOUND) {
		return lookedAt{done: true}, nil
	}
	if err != nil {
		return found, err
	}
	if !found.ride.StartAt.AsTime().Equal(due.At) || found.ride.State == pb.Ride_CALLED_OFF {
		found.done = true
		return found, nil
	}
	if !watched(tx, found.ride) {
		return found, nil
	}
	call, err := d.rollCall(tx, found.ride)
	if err != nil {
		return found, err
	}
	found.notices, found.overdue, err = d.due(tx, found.ride, call)
	found.done = err == nil && (!tookPlace(call, found.ride) || allDecided(call))
	return found, err
}

// tookPlace tells whether anybody published a ride or marked a rider; otherwise it may not have taken place.
func tookPlace(call *pb.RollCall, ride *pb.Ride) bool {
	return ride.RosterNumber > 0 || call.Newest > 0
}

// allDecided tells whether of each rider it is known, or was said at the closing, what became of them.
func allDecided(call *pb.RollCall) bool {
	return !slices.ContainsFunc(call.Riders, func(roll *pb.RiderRoll) bool {
		closed := roll.DueAt != nil && !roll.Overdue && !call.AsOf.AsTime().Before(roll.DueAt.AsTime())
		return !roll.Accounted && !closed
	})
}

// due gives the notices that are to be written for a ride now, and how many riders are overdue.
func (d *desk) due(tx *ledger.Tx, ride *pb.Ride, call *pb.RollCall) (notices []*pb.Notice, overdue int, err error) {
	if !tookPlace(call, ride) {
		return nil, 0, nil
	}
	var told []*pb.Notice
	err = tx.Notices(names.Last(ride.Name), func(notice *pb.Notice) error {
		told = append(told, notice)
		return nil
	})
	if err != nil {
		return nil, 0, err
	}
	for _, roll := range call.Riders {
		if roll.Overdue {
			overdue++
		}
	}
	secretaries, err := secretariesOf(tx)
	return rollcall.Notices(call, told, secretaries), overdue, err
}

// secretariesOf are the members who are secretaries and not suspended.
func secretariesOf(tx *ledger.Tx) (secretaries []string, err error) {
	err = tx.MembersWith(pb.Role_SECRETARY, func(member *pb.Member) error {
		if member.SuspendedAt == nil {
			secretaries = append(secretaries, member.Name)
		}
		return nil
	})
	return secretaries, err
}

// notify writes a notice, and a letter that carries it. It is the one place where notices come from.
func (d *desk) notify(tx *ledger.Tx, ride *pb.Ride, notice *pb.Notice) error {
	if err := tx.AddNotice(names.Last(ride.Name), notice); err != nil {
		return err
	}
	return d.tell(tx, ride, &pb.Letter{Kind: pb.Letter_OVERDUE, Notice: notice.Number}, notice.To)
}

// maxNotices is how many notices are told at once.
const maxNotices = 100

// ListNotices implements RollCallService.
func (s *rollCallService) ListNotices(ctx context.Context, request *pb.ListNoticesRequest) (*pb.ListNoticesResponse, error) {
	who := callerOf(ctx)
	ids, err := names.In(who.club, "parent", request.Parent, names.MemberShape)
	if err != nil {
		return nil, err
	}
	response := &pb.ListNoticesResponse{}
	calls := map[string]*pb.RollCall{}
	err = s.view(ctx, who, func(tx *ledger.Tx) error {
		return tx.NoticesTo(ids[1], maxNotices, func(notice *pb.Notice) error {
			ride, err := tx.Ride(names.Part(notice.Name, "rides"))
			if err != nil && !fault.Is(err, pb.Reason_NOT_FOUND) {
				return err
			}
			if err == nil && watched(tx, ride) && calls[ride.Name] == nil {
				if calls[ride.Name], err = s.rollCall(tx, ride); err != nil {
					return err
				}
			}
			for _, roll := range calls[ride.GetName()].GetRiders() {
				if roll.Overdue && slices.Contains(notice.Riders, roll.Member) {
					notice.Open = append(notice.Open, roll.Member)
				}
			}
			if !request.OpenOnly || len(notice.Open) > 0 {
				response.Notices = append(response.Notices, notice)
			}
			return nil
		})
	})
	if err != nil {
		return nil, err
	}
	return response, nil
}
