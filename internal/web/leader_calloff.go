package web

import (
	"strings"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// callOffView is the page on which a ride is called off: first the reason, then whether it is meant.
type callOffView struct {
	led
	// Reason is what is asked once more; "" the first time. Signed is how many have signed up.
	Reason string
	Signed int
	// Etag is that of the ride as it was shown.
	Etag string
}

func (v *visit) callOffForm() error {
	head, err := v.ledRide()
	if err != nil {
		return err
	}
	return v.view("leader-call-off", "Call the ride off", callOffView{led: head, Etag: head.Ride.Etag})
}

// callOff calls a ride off once it was asked twice.
func (v *visit) callOff() error {
	head, err := v.ledRide()
	if err != nil {
		return err
	}
	reason := strings.TrimSpace(v.form().Get("reason"))
	asked := callOffView{led: head, Etag: head.Ride.Etag}
	if reason == "" {
		v.refuse(fault.Invalid("reason", "say why: everybody who signed up is told"), "leader-call-off", "Call the ride off", asked)
		return nil
	}
	if v.form().Get("meant") != "yes" {
		all, err := v.allSignups(&pb.ListSignupsRequest{WithoutStandings: true})
		if err != nil {
			return err
		}
		asked.Reason, asked.Signed = reason, len(all)
		return v.view("leader-call-off", "Call the ride off", asked)
	}
	if head.Ride.State == pb.Ride_CALLED_OFF {
		return v.to("/"+head.Ride.Name, "called-off") // sent twice
	}
	_, err = v.rides.CallOffRide(v.ctx, &pb.CallOffRideRequest{Name: head.Ride.Name, Reason: reason, Etag: v.form().Get("etag")})
	if err != nil {
		v.refuse(err, "leader-call-off", "Call the ride off", asked)
		return nil
	}
	return v.to("/"+head.Ride.Name, "called-off")
}

// lettersView is who was told of a ride by e-mail.
type lettersView struct {
	led
	Letters []*pb.Letter
	// Mail: the server has a mail server to hand letters to.
	Mail bool
}

func (v *visit) letters() error {
	head, err := v.ledRide()
	if err != nil {
		return err
	}
	listed, err := v.rides.ListLetters(v.ctx, &pb.ListLettersRequest{Parent: head.Ride.Name})
	if err != nil {
		return err
	}
	return v.view("leader-letters", "Told by e-mail", lettersView{head, listed.Letters, listed.MailServer})
}
