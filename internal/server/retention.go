package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"time"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/policy"
	pb "gritward/proto/gritward/v1"
)

const (
	// keptTrust is how far the clock may have gone since the last look. Beyond that, and when it went back, nothing is removed
	// before the next look: a clock that is wrong would remove for ever what is not due. Ours.
	keptTrust = 30 * 24 * time.Hour
)

// Retention removes once a day what the policy in force keeps no longer: rides with all that lies below them, invites,
// devices that are shut out, and records of incidents. That a club was looked at is written with what was removed, in one transaction: a server that is
// stopped meanwhile goes on at the next start.
type Retention struct {
	desk     *desk
	erasures *Erasures
	log      *slog.Logger
}

// NewRetention makes the keeper of a ledger's records. The store is rewritten by the erasures; nil: it only looks.
func NewRetention(l *ledger.Ledger, erasures *Erasures, log *slog.Logger) *Retention {
	return &Retention{desk: newDesk(l, nil), erasures: erasures, log: log}
}

// Run looks now and then every so often whether a club is due, until the context ends. What goes wrong is logged, and tried
// again.
func (r *Retention) Run(ctx context.Context, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if err := r.Look(ctx); err != nil && ctx.Err() == nil {
			r.log.Error("what the policy keeps no longer could not be removed", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// Look removes, in every club that is due by the ledger's clock, what is kept no longer. It reads nothing of the others. A club that
// cannot be read keeps no other from it.
func (r *Retention) Look(ctx context.Context) error {
	now := r.desk.ledger.Now()
	due, err := r.desk.ledger.Due(ctx, ledger.DueKept, time.Time{}, now)
	if err != nil {
		return err
	}
	ahead, err := r.desk.ledger.Due(ctx, ledger.DueKept, now.Add(ledger.KeptEvery+2*time.Second), time.Time{}) // the clock was put back
	if err != nil {
		return err
	}
	var failed error
	removed := false
	for _, club := range clubsOf(append(due, ahead...)) {
		var gone *Expired
		err := r.desk.ledger.Update(ctx, club, func(tx *ledger.Tx) (err error) {
			gone, err = r.remove(tx)
			return err
		})
		if err != nil {
			failed = errors.Join(failed, fmt.Errorf("club %s: %w", club, err))
			continue
		}
		if gone.any() {
			removed = true
			r.log.Info("removed what the policy keeps no longer", "club", club, "rides", len(gone.Rides), "invites", gone.Invites, "devices", gone.Devices, "incidents", len(gone.Incidents))
		}
	}
	if removed {
		failed = errors.Join(failed, r.erasures.rewrite(ctx))
	}
	return failed
}

// remove removes what is kept no longer from a club that is due.
func (r *Retention) remove(tx *ledger.Tx) (*Expired, error) {
	last, err := tx.Retained()
	if err != nil {
		return nil, err
	}
	since := tx.Now.Sub(last.AsTime())
	if last != nil && since >= 0 && since < ledger.KeptEvery {
		return nil, nil
	}
	if err := tx.SaveRetained(); err != nil {
		return nil, err
	}
	if last == nil || since < 0 || since > keptTrust {
		r.log.Info("nothing is removed before the next look: this is the first for long, or the clock was changed", "club", tx.Club, "next", tx.Now.Add(ledger.KeptEvery))
		return nil, nil
	}
	if err := tx.ForgetRequests(); err != nil { // whatever the policy says, and without a word
		return nil, err
	}
	gone, err := r.desk.expired(tx)
	if err != nil || !gone.any() {
		return nil, err
	}
	var ids []string
	for _, ride := range gone.Rides {
		ids = append(ids, names.Last(ride.Name))
	}
	if err := tx.DropRides(ids); err != nil {
		return nil, err
	}
	for _, incident := range gone.Incidents {
		if err := tx.DropIncident(incident); err != nil {
			return nil, err
		}
	}
	if err := tx.DropInvites(gone.limits.invite); err != nil {
		return nil, err
	}
	if err := tx.DropDevices(gone.limits.device); err != nil {
		return nil, err
	}
	if err := tx.OweScrub("kept"); err != nil {
		return nil, err
	}
	return gone, tx.Append(&pb.AuditEntry{Actor: byServer, Method: "retention", Resource: names.Club(tx.Club),
		What: "removed what the policy keeps no longer: " + gone.Words()})
}

// Expired is what of a club is kept no longer.
type Expired struct {
	// Policy is the name of the policy that says so; "": none is in force, and nothing is removed.
	Policy string
	// Rides are the rides, the latest first. One of which the record of an incident is kept is kept with it.
	Rides []*pb.Ride
	// Incidents are the incidents whose records are over.
	Incidents []*pb.Incident
	// Invites and Devices are counts.
	Invites, Devices int
	limits           keptLimits
}

func (e *Expired) any() bool {
	return e != nil && len(e.Rides)+len(e.Incidents)+e.Invites+e.Devices > 0
}

// Words counts what is kept no longer, without saying what it is.
func (e *Expired) Words() string {
	var words []string
	for _, one := range []struct {
		count int
		what  string
		many  string
	}{{len(e.Rides), "ride", "rides"}, {e.Invites, "invite", "invites"}, {e.Devices, "device", "devices"}, {len(e.Incidents), "record of an incident", "records of incidents"}} {
		switch {
		case one.count == 1:
			words = append(words, "1 "+one.what)
		case one.count > 1:
			words = append(words, fmt.Sprintf("%d %s", one.count, one.many))
		}
	}
	return strings.Join(words, ", ")
}

// Expired tells what the next look would remove from a club, were it now and the clock believed.
func (r *Retention) Expired(ctx context.Context, club string) (gone *Expired, err error) {
	return gone, r.desk.ledger.View(ctx, club, func(tx *ledger.Tx) error {
		gone, err = r.desk.expired(tx)
		return err
	})
}

// expired finds what is kept no longer by the policy in force now. Without one nobody has decided, and everything stays.
func (d *desk) expired(tx *ledger.Tx) (*Expired, error) {
	gone := &Expired{}
	_, zone, err := d.zone(tx)
	if err != nil {
		return nil, err
	}
	used, revision, err := d.policyOn(tx, tx.Now, zone)
	if fault.Is(err, pb.Reason_NO_POLICY) {
		return gone, nil
	}
	if err != nil {
		return nil, err
	}
	gone.Policy, gone.limits = revision.Name, limitsOf(used, tx.Now)
	incidents, needed, err := d.expiredIncidents(tx)
	if err != nil {
		return nil, err
	}
	gone.Incidents = incidents
	if err := tx.RidesStarting(time.Time{}, gone.limits.rides, func(ride *pb.Ride) error {
		if ride.StartAt.AsTime().Before(gone.limits.rides) && !needed[names.Last(ride.Name)] {
			gone.Rides = append(gone.Rides, ride)
		}
		return nil
	}); err != nil {
		return nil, err
	}
	if err := tx.Invites(func(record *pb.InviteRecord) error {
		if gone.limits.invite(record.Invite) {
			gone.Invites++
		}
		return nil
	}); err != nil {
		return nil, err
	}
	return gone, tx.AllDevices(func(device *pb.Device) {
		if gone.limits.device(device) {
			gone.Devices++
		}
	})
}

// keptLimits are the instants before which records are old enough to be removed.
type keptLimits struct{ rides, invites, devices time.Time }

func limitsOf(used *policy.Policy, now time.Time) keptLimits {
	return keptLimits{rides: now.Add(-used.RidesKept()), invites: now.Add(-used.InvitesKept()), devices: now.Add(-used.DevicesKept())}
}

// invite tells whether an invite has not been good for longer than it is kept.
func (l keptLimits) invite(invite *pb.Invite) bool {
	ended := invite.ExpiresAt
	if invite.AcceptedAt != nil {
		ended = invite.AcceptedAt
	}
	if invite.WithdrawnAt != nil {
		ended = invite.WithdrawnAt
	}
	return ended.AsTime().Before(l.invites)
}

// device tells whether a device has been shut out for longer than it is kept.
func (l keptLimits) device(device *pb.Device) bool {
	return device.RevokedAt != nil && device.RevokedAt.AsTime().Before(l.devices)
}
