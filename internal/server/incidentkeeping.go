package server

import (
	"context"
	"log/slog"
	"time"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

// IncidentKeeping deletes records of incidents when the time for which the policy keeps them is over.
type IncidentKeeping struct {
	desk *desk
	log  *slog.Logger
}

// NewIncidentKeeping makes one; server.New gives it what it looks at.
func NewIncidentKeeping() *IncidentKeeping { return &IncidentKeeping{} }

func (k *IncidentKeeping) join(d *desk, log *slog.Logger) { k.desk, k.log = d, log }

// Run looks now and then every so often, until the context ends. What goes wrong is logged, and tried again.
func (k *IncidentKeeping) Run(ctx context.Context, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if err := k.Drop(ctx); err != nil && ctx.Err() == nil {
			k.log.Error("records of incidents whose time is over could not be deleted", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// Drop deletes, in every club, what is over by the ledger's clock, each with an entry in the audit log. A club that cannot
// be read keeps no other from it; the first error is given.
func (k *IncidentKeeping) Drop(ctx context.Context) error {
	clubs, err := k.desk.ledger.Clubs(ctx)
	if err != nil {
		return err
	}
	var first error
	for _, club := range clubs {
		err := k.desk.ledger.Update(ctx, club, func(tx *ledger.Tx) error {
			dropped, err := k.desk.dropExpiredIncidents(tx)
			for _, name := range dropped {
				if err == nil {
					err = tx.Append(&pb.AuditEntry{Actor: byServer, Method: "incidents", Resource: name, What: "deleted the record of an incident: its time is over"})
				}
			}
			return err
		})
		if err != nil && first == nil {
			first = err
		}
	}
	return first
}
