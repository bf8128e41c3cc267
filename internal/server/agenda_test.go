package server_test

import (
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/post"
	"gritward/internal/server"
	"gritward/internal/store"
	"gritward/internal/store/bolt"
	"gritward/internal/store/enginetest"
	pb "gritward/proto/gritward/v1"
)

// counting counts the transactions that are begun, and the records that are read or listed.
type counting struct {
	store.Store
	transactions, reads atomic.Int64
}

func (c *counting) Update(ctx context.Context, club string, use func(store.Tx) error) error {
	c.transactions.Add(1)
	return c.Store.Update(ctx, club, func(tx store.Tx) error { return use(&countingTx{tx, c}) })
}

func (c *counting) View(ctx context.Context, club string, use func(store.Tx) error) error {
	c.transactions.Add(1)
	return c.Store.View(ctx, club, func(tx store.Tx) error { return use(&countingTx{tx, c}) })
}

func (c *counting) Due(ctx context.Context, from, before string) ([]store.Due, error) {
	due, err := c.Store.Due(ctx, from, before)
	c.reads.Add(int64(len(due)))
	return due, err
}

type countingTx struct {
	store.Tx
	of *counting
}

func (t *countingTx) Is(key string, value []byte) (bool, error) {
	t.of.reads.Add(1)
	return t.Tx.Is(key, value)
}

func (t *countingTx) Get(key string) ([]byte, error) {
	t.of.reads.Add(1)
	return t.Tx.Get(key)
}

func (t *countingTx) Scan(prefix, after string, visit store.Visit) error {
	return t.Tx.Scan(prefix, after, t.counted(visit))
}

func (t *countingTx) ScanDown(prefix, before string, visit store.Visit) error {
	return t.Tx.ScanDown(prefix, before, t.counted(visit))
}

func (t *countingTx) counted(visit store.Visit) store.Visit {
	return func(key string, value []byte) (bool, error) {
		t.of.reads.Add(1)
		return visit(key, value)
	}
}

// refusing is a mail server that takes nothing for now.
type refusing struct{}

func (refusing) Send(context.Context, post.Message) error { return errors.New("not now") }

// atRest writes clubs in which nothing is due: each has a policy, a ride of last week and one to come.
func (w *world) atRest(from, to int) {
	w.t.Helper()
	var writers sync.WaitGroup // together, since they share commits
	for part := range 64 {
		writers.Go(func() {
			for i := from + part; i < to; i += 64 {
				if err := w.oneAtRest(fmt.Sprintf("rest-%d", i)); err != nil {
					w.t.Error(told(err))
				}
			}
		})
	}
	writers.Wait()
}

func (w *world) oneAtRest(id string) error {
	return w.ledger.Update(w.ctx, id, func(tx *ledger.Tx) error {
		ride := func(day string, at time.Time) error {
			return tx.SaveRide(&pb.Ride{Name: "clubs/" + id + "/rides/" + day, Title: "Becks", StartAt: timestamppb.New(at), RosterNumber: 1, State: pb.Ride_PUBLISHED})
		}
		return errors.Join(tx.Found(&pb.Club{Title: "At rest", Zone: "UTC"}), tx.SaveRetained(),
			tx.AddPolicy(&pb.PolicyRevision{EffectiveFrom: "2026-10-01"}), ride("past", tx.Now.AddDate(0, 0, -7)), ride("next", tx.Now.AddDate(0, 0, 7)))
	})
}

// TestAtRest: what the server on duty does each minute takes nothing of clubs in which nothing is due, however many there are.
func TestAtRest(t *testing.T) {
	few, many := 10, 2000
	if enginetest.Many || testing.Short() {
		many = 200 // each club is read anew at the end of the test, to hold its indexes against its records
	}
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday())
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		w.joins(id, ride.Name, nil)
	}
	w.publish("lea", ride.Name)
	w.setClock(ride.StartAt.AsTime().Add(time.Hour))
	w.marked(ride, "on", "ben", pb.Mark_SIGNED_ON)
	if err := w.ledger.Update(w.ctx, "fenwick", func(tx *ledger.Tx) error {
		ada, err := tx.Member("ada")
		if ada.Email = "ada@fenwick.example"; err == nil {
			err = tx.SaveMember(ada)
		}
		return errors.Join(err, tx.AddLetter(names.Last(ride.Name), &pb.Letter{Kind: pb.Letter_CALLED_OFF, Member: ada.Name, GiveUpAt: timestamppb.New(tx.Now.AddDate(1, 0, 0))}))
	}); err != nil {
		t.Fatal(told(err))
	}
	counts := &counting{Store: w.store}
	l, log, watch := ledger.New(counts, w.clock), slog.New(slog.DiscardHandler), server.NewRollWatch()
	if _, err := server.New(server.Config{Ledger: l, Log: log, Keys: w.keys, RollWatch: watch}); err != nil {
		t.Fatal(err)
	}
	kept := server.NewRetention(l, server.NewErasures("", l, log), log)
	minute := func(clubs int) (seen [2]int64) {
		t.Helper()
		letters := &server.Post{Ledger: l, Log: log, Mailer: refusing{}}
		w.setClock(w.clock().Add(time.Hour)) // a letter is due again
		transactions, reads := counts.transactions.Load(), counts.reads.Load()
		_, sent := letters.Round(w.ctx)
		survey, looked := server.TakeSurvey(w.ctx, l)
		if err := errors.Join(watch.Look(w.ctx), kept.Look(w.ctx), sent, looked); err != nil {
			t.Fatal(told(err))
		}
		if survey.Clubs != clubs || len(survey.NoPolicy) > 0 || survey.Queued != 1 {
			t.Errorf("surveyed %+v", survey)
		}
		return [2]int64{counts.transactions.Load() - transactions, counts.reads.Load() - reads}
	}
	w.atRest(0, few)
	_ = minute(few + 1) // the first look at what is kept, and the peeked records
	before := minute(few + 1)
	w.atRest(few, many)
	after := minute(many + 1)
	t.Logf("transactions and records read a minute: %v with %d clubs at rest, %v with %d", before, few, after, many)
	if before[1] == 0 || after != before {
		t.Errorf("got %v with %d clubs at rest, %v with %d", before, few, after, many)
	}
}

// TestWatchedAgain: a ride of which nobody can be overdue any more is looked at no longer, until something is written by which
// somebody may be.
func TestWatchedAgain(t *testing.T) {
	w, ride := closingWorld(t)
	w.publish("lea", ride.Name)
	watched := func() bool {
		t.Helper()
		if err := w.overdue.Look(w.ctx); err != nil {
			t.Fatal(err)
		}
		due, err := w.ledger.Due(w.ctx, ledger.DueRide, w.clock().Add(-ledger.WatchReach), w.clock())
		if err != nil {
			t.Fatal(err)
		}
		return len(due) > 0
	}
	want := func(when string, is bool) {
		t.Helper()
		if got := watched(); got != is {
			t.Errorf("%s: watched is %v", when, got)
		}
	}
	want("before the start", false)
	w.setClock(ride.StartAt.AsTime().Add(5 * time.Hour))
	want("under way", true)
	for _, id := range []string{"ada", "ben", "bo", "mia", "lea"} {
		if signup, err := w.rides.GetSignup(w.as("lea"), &pb.GetSignupRequest{Name: ride.Name + "/signups/" + id}); err == nil && signup.State == pb.Signup_IN {
			w.marked(ride, "home-"+id, id, pb.Mark_HOME)
		}
	}
	want("everybody is home", false)
	w.setClock(w.clock().Add(time.Minute))
	w.marked(ride, "again", "ben", pb.Mark_SET_OFF)
	want("one set off again", true)
	if _, err := w.rolls.CloseRide(w.as("sec"), &pb.CloseRideRequest{Name: ride.Name, Reason: "seen at home"}); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(ride.StartAt.AsTime().Add(24 * time.Hour))
	want("closed all the same", false)
	if _, err := w.rolls.ReopenRide(w.as("sec"), &pb.ReopenRideRequest{Name: ride.Name, Reason: "not at home"}); err != nil {
		t.Fatal(told(err))
	}
	want("opened again", true)
	w.setClock(ride.StartAt.AsTime().Add(ledger.WatchReach + time.Second))
	want("long after", false)
	w.setClock(ride.StartAt.AsTime().Add(25 * time.Hour))
	want("the clock was ahead", true)
}

// TestOlderAgenda: the records of a store from before there was an agenda are put on it, and nothing is left of what was there
// in its place.
func TestOlderAgenda(t *testing.T) {
	packed, err := os.Open(filepath.Join(storedFiles, "schema-2.db.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close()
	from, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(from)
	path := filepath.Join(t.TempDir(), "club.db")
	if err := errors.Join(err, os.WriteFile(path, data, 0o600)); err != nil {
		t.Fatal(err)
	}
	now := func() time.Time { return time.Date(2027, 3, 7, 12, 0, 0, 0, time.UTC) } // the later ride is under way
	s, err := bolt.Open(bolt.Options{Path: path, Now: now})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	l := ledger.New(s, now)
	if done, err := l.Index(t.Context()); err != nil || len(done) != 2 {
		t.Fatal(done, err)
	}
	for kind, want := range map[ledger.DueKind]int{ledger.DueRide: 1, ledger.DueLetter: 1, ledger.DueKept: 2} {
		due, err := l.Due(t.Context(), kind, time.Time{}, time.Time{})
		if err != nil || len(due) < want {
			t.Errorf("%s: %v, %v", kind, due, err)
		}
	}
	if err := l.View(t.Context(), "fenwick", func(tx *ledger.Tx) error {
		return tx.Verify(func(f ledger.Finding) { t.Errorf("%s: %s", f.Key, f.What) }, func() {})
	}); err != nil {
		t.Error(err)
	}
	if err := s.View(t.Context(), "fenwick", func(tx store.Tx) error {
		return tx.Scan("", "", func(key string, _ []byte) (bool, error) {
			if strings.HasPrefix(key, "queue/") || strings.HasPrefix(key, "scrub-owed/") {
				t.Errorf("%s is still there", key)
			}
			return true, nil
		})
	}); err != nil {
		t.Error(err)
	}
	if done, err := l.Scrub(t.Context()); err != nil || !done {
		t.Errorf("what was owed is not any more: %v, %v", done, err)
	}
}
