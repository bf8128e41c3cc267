package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync/atomic"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/rollcall"
	pb "gritward/proto/gritward/v1"
)

// watchReach is how long after its start a ride is looked at: a server that was stopped for less misses nobody. Ours.
const watchReach = 3 * 24 * time.Hour

// RollWatch tells leaders and secretaries who is overdue. What was told is a record, written with the notice in one
// transaction: however often the server is stopped, nobody is told twice, and nobody is missed.
type RollWatch struct {
	desk *desk
	log  *slog.Logger
	// looked is when all clubs were last looked at without a fault, Unix s, and overdue how many riders were overdue then.
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

// Look tells, in every club, who is to be told by the ledger's clock. A club that cannot be read keeps no other from it; the
// first error is given.
func (w *RollWatch) Look(ctx context.Context) error {
	clubs, err := w.desk.ledger.Clubs(ctx)
	if err != nil {
		return err
	}
	var first error
	all := 0
	for _, club := range clubs {
		overdue, err := w.lookAt(ctx, club)
		if all += overdue; err != nil && first == nil {
			first = err
		}
	}
	w.overdue.Store(int64(all))
	if first == nil {
		w.looked.Store(w.desk.ledger.Now().Unix())
	}
	return first
}

// lookAt looks at the rides of a club that have begun, and writes only where there is something to tell. A ride that cannot
// be reckoned keeps no other from it. It tells how many riders are overdue.
func (w *RollWatch) lookAt(ctx context.Context, club string) (overdue int, failed error) {
	var late []string
	err := w.desk.ledger.View(ctx, club, func(tx *ledger.Tx) error {
		return tx.RidesStarting(tx.Now.Add(-watchReach), tx.Now.Add(time.Second), func(ride *pb.Ride) error {
			if !watched(tx, ride) {
				return nil
			}
			notices, riders, err := w.desk.due(tx, ride)
			if overdue += riders; len(notices) > 0 {
				late = append(late, names.Last(ride.Name))
			}
			failed = errors.Join(failed, about(ride.Name, err))
			return ctx.Err()
		})
	})
	failed = errors.Join(failed, err)
	for _, id := range late {
		failed = errors.Join(failed, about(id, w.tellOf(ctx, club, id)))
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

// tellOf writes the notices of a ride that are due.
func (w *RollWatch) tellOf(ctx context.Context, club, id string) error {
	return w.desk.ledger.Update(ctx, club, func(tx *ledger.Tx) error {
		ride, err := tx.Ride(id)
		if err != nil || !watched(tx, ride) {
			return err
		}
		notices, _, err := w.desk.due(tx, ride)
		if err != nil || len(notices) == 0 {
			return err
		}
		for _, notice := range notices {
			if err := w.desk.notify(tx, ride, notice); err != nil {
				return err
			}
		}
		return tx.Append(&pb.AuditEntry{Actor: byServer, Method: "roll call", Resource: ride.Name, What: "told who is overdue"})
	})
}

// watched tells whether it is looked for who of a ride is overdue: it began, not too long ago, and is not called off.
func watched(tx *ledger.Tx, ride *pb.Ride) bool {
	began := tx.Now.Sub(ride.StartAt.AsTime())
	return ride.State != pb.Ride_CALLED_OFF && began >= 0 && began < watchReach
}

// due gives the notices that are to be written for a ride now, and how many riders are overdue.
func (d *desk) due(tx *ledger.Tx, ride *pb.Ride) (notices []*pb.Notice, overdue int, err error) {
	call, err := d.rollCall(tx, ride)
	if err != nil || ride.RosterNumber == 0 && call.Newest == 0 {
		return nil, 0, err // nobody published it and nobody marked: it may not have taken place
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
