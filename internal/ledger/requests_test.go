package ledger_test

import (
	"testing"
	"time"

	"gritward/internal/ledger"
	pb "gritward/proto/gritward/v1"
)

func TestAnswered(t *testing.T) {
	asked := ledger.Request{Member: "ann", ID: "word", Method: "CreateRide", Message: &pb.CreateRideRequest{Parent: "clubs/moor"}}
	other := func(change func(*ledger.Request)) ledger.Request {
		request := asked
		change(&request)
		return request
	}
	const reused = `request_id "word" was used for another request; use a new one`
	for _, c := range []struct {
		name    string
		request ledger.Request
		later   time.Duration
		want    string // the record made, or
		refusal string
	}{
		{"the same", asked, 0, "clubs/moor/rides/r", ""},
		{"an equal one", other(func(r *ledger.Request) { r.Message = &pb.CreateRideRequest{Parent: "clubs/moor"} }), time.Minute, "clubs/moor/rides/r", ""},
		{"after 24 h", asked, 24 * time.Hour, "clubs/moor/rides/r", ""},
		{"after more", asked, 24*time.Hour + time.Second, "", ""},
		{"another, after more", other(func(r *ledger.Request) { r.Method = "X" }), 25 * time.Hour, "", ""},
		{"when the clock went back", asked, -time.Hour, "clubs/moor/rides/r", ""},
		{"another message", other(func(r *ledger.Request) { r.Message = &pb.CreateRideRequest{Parent: "clubs/fen"} }), 0, "", reused},
		{"another method", other(func(r *ledger.Request) { r.Method = "AdoptPolicy" }), 0, "", reused},
		{"another member's", other(func(r *ledger.Request) { r.Member = "ben" }), 0, "", ""},
		{"another id", other(func(r *ledger.Request) { r.ID = "word2" }), 0, "", ""},
		{"no id", other(func(r *ledger.Request) { r.ID = "" }), 0, "", ""},
		{"an id with a slash", other(func(r *ledger.Request) { r.Member, r.ID = "ann/word", "" }), 0, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := open(t)
			b.write(func(tx *ledger.Tx) error { return tx.Answer(&asked, "clubs/moor/rides/r") })
			b.now = b.now.Add(c.later)
			got := ""
			err := b.ledger.View(t.Context(), club, func(tx *ledger.Tx) (err error) {
				got, err = tx.Answered(&c.request)
				return err
			})
			if c.refusal != "" {
				wantFault(t, err, pb.Reason_REQUEST_ID_REUSED, c.refusal)
			} else if err != nil || got != c.want {
				t.Errorf("got %q, %v; want %q", got, err, c.want)
			}
		})
	}
}

// An id that was forgotten can be used anew, and then stands for the new request.
func TestAnswerAgain(t *testing.T) {
	b := open(t)
	first := ledger.Request{Member: "ann", ID: "word", Method: "A", Message: &pb.CreateRideRequest{}}
	second := ledger.Request{Member: "ann", ID: "word", Method: "B", Message: &pb.CreateRideRequest{}}
	b.write(func(tx *ledger.Tx) error { return tx.Answer(&first, "one") })
	b.now = b.now.Add(25 * time.Hour)
	b.write(func(tx *ledger.Tx) error { return tx.Answer(&second, "two") })
	b.read(func(tx *ledger.Tx) error {
		if got, err := tx.Answered(&second); got != "two" || err != nil {
			t.Errorf("got %q, %v", got, err)
		}
		_, err := tx.Answered(&first)
		wantFault(t, err, pb.Reason_REQUEST_ID_REUSED, `request_id "word" was used for another request; use a new one`)
		return nil
	})
}

// Without an id nothing is remembered.
func TestAnswerWithoutID(t *testing.T) {
	b := open(t)
	b.write(func(tx *ledger.Tx) error { return tx.Answer(&ledger.Request{Member: "ann", Method: "A"}, "one") })
	if keys, _ := b.keys(""); len(keys) != 0 {
		t.Errorf("left: %v", keys)
	}
}
