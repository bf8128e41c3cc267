package server_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/emersion/go-smtp"
	"github.com/jhillyerd/enmime/v2"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"gritward/internal/post"
	"gritward/internal/post/posttest"
	"gritward/internal/server"
	pb "gritward/proto/gritward/v1"
)

// office is a world with a mail server, and what hands letters to it.
type office struct {
	*world
	mail *posttest.Server
	post *server.Post
}

// newOffice has members with e-mail addresses, all but Bo.
func newOffice(t *testing.T) *office {
	o := &office{world: newWorldSending(t), mail: posttest.Start(t, posttest.Options{})}
	host, number, err := net.SplitHostPort(o.mail.Address)
	if err != nil {
		t.Fatal(err)
	}
	port, err := strconv.Atoi(number)
	if err != nil {
		t.Fatal(err)
	}
	smtp, err := post.New(post.Config{Host: host, Port: port, Security: post.None, From: "Fenwick <rides@fenwick.example>", Timeout: time.Minute})
	if err != nil {
		t.Fatal(err)
	}
	o.post = &server.Post{Ledger: o.ledger, Mailer: smtp, Log: slog.New(slog.NewTextHandler(o.log, nil))}
	people(o.world)
	for _, id := range []string{"lea", "ben", "ada", "mia"} {
		o.address(id, id+"@fenwick.example")
	}
	o.declare("mia", bike("winter bike", 300))
	return o
}

func (o *office) address(id, email string) {
	o.t.Helper()
	if _, err := o.clubs.UpdateMember(o.as(id), &pb.UpdateMemberRequest{Member: &pb.Member{Name: club + "/members/" + id, Email: email},
		UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"email"}}}); err != nil {
		o.t.Fatal(told(err))
	}
}

// round sends what is due, and tells when the next is.
func (o *office) round() string {
	o.t.Helper()
	next, err := o.post.Round(o.ctx)
	if err != nil {
		o.t.Fatal(err)
	}
	if next.IsZero() {
		return "none"
	}
	return next.Sub(o.clock()).String()
}

// came are the messages that the mail server took, each as "to: subject", in order of both.
func (o *office) came() []string {
	o.t.Helper()
	var all []string
	for _, taken := range o.mail.Taken() {
		read, err := enmime.ReadEnvelope(bytes.NewReader(taken.Data))
		if err != nil {
			o.t.Fatal(err)
		}
		all = append(all, taken.To+": "+read.GetHeader("Subject"))
	}
	slices.Sort(all)
	return all
}

// letters tells the letters of a ride as its leader sees them.
func (o *office) letters(ride string) string {
	o.t.Helper()
	answer, err := o.rides.ListLetters(o.as("lea"), &pb.ListLettersRequest{Parent: ride})
	if err != nil {
		o.t.Fatal(told(err))
	}
	var all []string
	for _, letter := range answer.Letters {
		said := fmt.Sprintf("%s %s %s", letter.DisplayName, letter.Kind, letter.State)
		if letter.Refusal != "" {
			said += " (" + letter.Refusal + ")"
		}
		all = append(all, said)
	}
	return strings.Join(all, "; ")
}

func wantLines(t *testing.T, got []string, want ...string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("got\n  %s\nwant\n  %s", strings.Join(got, "\n  "), strings.Join(want, "\n  "))
	}
}

// TestLetters: an issue goes to everybody on the ride who gave an address, once; so do a place that came free and a ride
// called off; and each letter is the reader's own.
func TestLetters(t *testing.T) {
	o := newOffice(t)
	asked := sunday()
	asked.Places = 4
	ride := o.ride("lea", asked).Name
	for _, id := range []string{"lea", "ben", "ada", "bo", "mia"} {
		o.joins(id, ride, nil)
	}
	if got := o.round(); got != "none" || len(o.came()) != 0 {
		t.Errorf("before anything is published: %s, %q", got, o.came())
	}
	o.publish("lea", ride)
	issue1 := []string{
		"ada@fenwick.example: Four Becks: you ride in Easy, Sunday 13 December 2026",
		"ben@fenwick.example: Four Becks: you ride in Brisk, Sunday 13 December 2026",
		"lea@fenwick.example: Four Becks: you ride in Brisk, Sunday 13 December 2026",
		"mia@fenwick.example: Four Becks: you wait for a place, Sunday 13 December 2026",
	}
	for range 3 {
		if got := o.round(); got != "none" {
			t.Error(got)
		}
		wantLines(t, o.came(), issue1...)
	}
	for _, taken := range o.mail.Taken() {
		read, err := enmime.ReadEnvelope(bytes.NewReader(taken.Data))
		if err != nil {
			t.Fatal(err)
		}
		if len(read.Attachments) != 2 || !strings.HasPrefix(string(read.Attachments[1].Content), "BEGIN:VCALENDAR") || !strings.Contains(string(read.Attachments[0].Content), "Official weather warnings") && !strings.Contains(strings.ToLower(string(read.Attachments[0].Content)), "warning") {
			t.Errorf("%s has not the brief with it", taken.To)
		}
	}
	if got := o.withdraws("bo", ride); got != "no error" {
		t.Fatal(got)
	}
	o.round()
	free := "mia@fenwick.example: You have a place on Four Becks, Sunday 13 December 2026"
	wantLines(t, o.came(), append(slices.Clone(issue1), free)...)
	if _, err := o.rides.CallOffRide(o.as("lea"), &pb.CallOffRideRequest{Name: ride, Reason: "ice on the moor"}); err != nil {
		t.Fatal(told(err))
	}
	o.round()
	off := " Four Becks is called off, Sunday 13 December 2026"
	want := append(slices.Clone(issue1), free)
	for _, id := range []string{"ada", "ben", "lea", "mia"} {
		want = append(want, id+"@fenwick.example:"+off)
	}
	slices.Sort(want)
	wantLines(t, o.came(), want...)
	for _, taken := range o.mail.Taken() {
		read, err := enmime.ReadEnvelope(bytes.NewReader(taken.Data))
		if err != nil {
			t.Fatal(err)
		}
		cancelled := len(read.Attachments) == 1 && strings.Contains(string(read.Attachments[0].Content), "STATUS:CANCELLED")
		if cancelled != strings.Contains(read.GetHeader("Subject"), "called off") {
			t.Errorf("%s: takes the entry out of the calendar: %t", read.GetHeader("Subject"), cancelled)
		}
	}
	if got := o.letters(ride); strings.Count(got, " SENT") != 9 || strings.Contains(got, "QUEUED") {
		t.Error(got)
	}
	if log := o.log.String(); strings.Contains(log, "@fenwick.example") {
		t.Error("an address stands in the log")
	}
}

// TestLettersNotTaken: a mail server that turns letters away for now gets them again, later and later; one refused for good
// is not tried again; after the start a letter is of no use.
func TestLettersNotTaken(t *testing.T) {
	o := newOffice(t)
	ride := o.ride("lea", sunday()).Name
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		o.joins(id, ride, nil)
	}
	o.publish("lea", ride)
	o.mail.Answers(func(taken posttest.Taken) error {
		if strings.HasPrefix(taken.To, "ben") {
			return &smtp.SMTPError{Code: 550, Message: "no such user"}
		}
		return &smtp.SMTPError{Code: 450, Message: "greylisted"}
	})
	var waits []string
	for range 9 {
		next := o.round()
		waits = append(waits, next)
		wait, err := time.ParseDuration(next)
		if err != nil {
			t.Fatal(next)
		}
		if before := o.mail.Sessions(); o.round() != next || o.mail.Sessions() != before {
			t.Error("a letter was tried before its time")
		}
		o.setClock(o.clock().Add(wait))
	}
	if got := strings.Join(waits, " "); got != "2m0s 4m0s 8m0s 16m0s 32m0s 1h0m0s 1h0m0s 1h0m0s 1h0m0s" {
		t.Error(got)
	}
	if got := o.letters(ride); strings.Count(got, "QUEUED (") != 2 || strings.Count(got, "Ben ROSTER GAVE_UP (") != 1 || !strings.Contains(got, "no such user") {
		t.Error(got)
	}
	o.mail.Answers(func(taken posttest.Taken) error {
		if strings.HasPrefix(taken.To, "ada") {
			return nil
		}
		return &smtp.SMTPError{Code: 450, Message: "greylisted"}
	})
	o.round()
	wantLines(t, o.came(), "ada@fenwick.example: Four Becks: you ride in Easy, Sunday 13 December 2026")
	o.setClock(time.Date(2026, 12, 13, 10, 31, 0, 0, time.UTC))
	if got := o.round(); got != "none" {
		t.Error(got)
	}
	if got := o.letters(ride); !strings.Contains(got, "Lea ROSTER GAVE_UP (it could not be handed over in time: ") {
		t.Error(got)
	}
}

// TestLettersOutdated: a letter that was not taken in time is not sent once something newer has come.
func TestLettersOutdated(t *testing.T) {
	o := newOffice(t)
	ride := o.ride("lea", sunday()).Name
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		o.joins(id, ride, nil)
	}
	o.publish("lea", ride)
	o.mail.Answers(func(posttest.Taken) error { return &smtp.SMTPError{Code: 450, Message: "greylisted"} })
	o.round()
	o.mail.Answers(nil)
	if _, err := o.rides.CallOffRide(o.as("lea"), &pb.CallOffRideRequest{Name: ride, Reason: "ice on the moor"}); err != nil {
		t.Fatal(told(err))
	}
	o.setClock(o.clock().Add(time.Hour))
	o.round()
	off := "@fenwick.example: Four Becks is called off, Sunday 13 December 2026"
	wantLines(t, o.came(), "ada"+off, "ben"+off, "lea"+off)
	if got := o.letters(ride); strings.Count(got, "GAVE_UP (something newer has come since: ") != 3 {
		t.Error(got)
	}
}

// TestLettersOutlive: what is queued is sent after the server was stopped at any moment; where it died between the mail
// server's answer and its own entry, the letter comes again under the same id.
func TestLettersOutlive(t *testing.T) {
	o := newOffice(t)
	ride := o.ride("lea", sunday()).Name
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		o.joins(id, ride, nil)
	}
	o.publish("lea", ride)
	dying := &server.Post{Ledger: o.ledger, Log: o.post.Log, Mailer: died{o.post.Mailer}}
	func() {
		defer func() { _ = recover() }()
		_, _ = dying.Round(o.ctx)
	}()
	if got := len(o.mail.Taken()); got != 1 {
		t.Fatalf("%d letters went out before it died", got)
	}
	if got := o.round(); got != "2m0s" { // the one that it is not known of
		t.Error(got)
	}
	o.setClock(o.clock().Add(2 * time.Minute))
	if got := o.round(); got != "none" {
		t.Error(got)
	}
	ids := map[string]int{}
	for _, taken := range o.mail.Taken() {
		read, err := enmime.ReadEnvelope(bytes.NewReader(taken.Data))
		if err != nil {
			t.Fatal(err)
		}
		ids[read.GetHeader("Message-Id")]++
	}
	if len(ids) != 3 || len(o.mail.Taken()) != 4 {
		t.Errorf("messages %v", ids)
	}
}

// TestLettersAddressGone: who takes the address back, or is suspended, gets none any more.
func TestLettersAddressGone(t *testing.T) {
	o := newOffice(t)
	ride := o.ride("lea", sunday()).Name
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		o.joins(id, ride, nil)
	}
	o.publish("lea", ride)
	o.address("ada", "")
	if err := o.suspendAs("sec", "ben"); err != nil {
		t.Fatal(told(err))
	}
	o.round()
	wantLines(t, o.came(), "lea@fenwick.example: Four Becks: you ride in Brisk, Sunday 13 December 2026")
	if got := o.letters(ride); strings.Count(got, "GAVE_UP (the member gets none any more)") != 2 {
		t.Error(got)
	}
}

// TestNoMailServer: without one nothing is queued, and all else goes on.
func TestNoMailServer(t *testing.T) {
	w := newWorld(t)
	people(w)
	ride := w.ride("lea", sunday()).Name
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		w.joins(id, ride, nil)
	}
	w.publish("lea", ride)
	answer, err := w.rides.ListLetters(w.as("lea"), &pb.ListLettersRequest{Parent: ride})
	if err != nil || len(answer.Letters) != 0 || answer.MailServer {
		t.Errorf("%v, %s", answer, told(err))
	}
	if _, err := w.rides.ListLetters(w.as("ben"), &pb.ListLettersRequest{Parent: ride}); !strings.Contains(told(err), "NOT_ALLOWED") {
		t.Error(told(err))
	}
}

// died is a server that hands a letter over and dies before it can write that down.
type died struct{ server.Mailer }

func (d died) Send(ctx context.Context, message post.Message) error {
	if err := d.Mailer.Send(ctx, message); err != nil {
		return err
	}
	panic(errors.New("died"))
}

// TestOverdueLetter: who is told that riders are overdue is written to, with the last mark and where the group should be.
func TestOverdueLetter(t *testing.T) {
	o := newOffice(t)
	ride := o.ride("lea", sunday()).Name
	for _, id := range []string{"lea", "ben", "ada", "bo"} {
		o.joins(id, ride, nil)
	}
	issue := o.publish("lea", ride)
	o.round()
	before := len(o.came())
	for _, group := range issue.Placement.Groups {
		o.setClock(group.Plan.HomeAt.AsTime().Add(31 * time.Minute))
	}
	if err := o.overdue.Look(o.ctx); err != nil {
		t.Fatal(err)
	}
	if got := o.round(); got != "none" {
		t.Error(got)
	}
	taken := o.mail.Taken()[before:]
	if len(taken) != 1 || taken[0].To != "lea@fenwick.example" {
		t.Fatalf("%d letters", len(taken))
	}
	read, err := enmime.ReadEnvelope(bytes.NewReader(taken[0].Data))
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Ada", "Bo"} {
		if !strings.Contains(read.Text, want) {
			t.Errorf("the letter does not name %s:\n%s", want, read.Text)
		}
	}
	if got := read.GetHeader("Subject"); got != "Overdue on Four Becks" {
		t.Error(got)
	}
}
