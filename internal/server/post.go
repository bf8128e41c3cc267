package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	"gritward/internal/post"
	"gritward/internal/render"
	"gritward/internal/roster"
	pb "gritward/proto/gritward/v1"
)

// Mailer takes letters: a *post.SMTP, for one. The error is a *post.RefusedError where the mail server gave one.
type Mailer interface {
	Send(context.Context, post.Message) error
}

// Post sends the letters that are queued. A letter that is not taken is tried again, later and later, until it is taken, is
// refused for good, or is of no use any more. That it is tried is written down before: when the server dies between the mail
// server's answer and the next entry, the letter goes out a second time, under the same Message-ID.
type Post struct {
	Ledger *ledger.Ledger
	Mailer Mailer
	Log    *slog.Logger
	// PagesAddress is as in Config.
	PagesAddress string

	// later are letters that are left alone until then.
	later map[ledger.Due]time.Time
}

const (
	// firstWait is how long a letter waits after it was not taken once; the wait doubles each time, up to longestWait. A mail
	// server that turns strangers away at first wants them back after some minutes, and patience of hours (RFC 5321, 4.5.4.1
	// asks for at least 30 min; common practice for what is urgent is less, no source).
	firstWait   = 2 * time.Minute
	longestWait = time.Hour
	// sendTime bounds one attempt.
	sendTime = time.Minute
)

// Run sends what is due, of whatever club, and looks every so often what else is, until the context ends. What goes wrong is
// logged, and tried again later.
func (p *Post) Run(ctx context.Context, every time.Duration) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		if _, err := p.Round(ctx); err != nil && ctx.Err() == nil {
			p.Log.Error("letters cannot be sent", "error", err, "again", firstWait)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// Round tries every letter that is due, once, and tells when the next is; the zero time: none is queued. A letter whose record
// cannot be read or written is left alone for a while, so that the others need not wait for it.
func (p *Post) Round(ctx context.Context) (next time.Time, err error) {
	due, err := p.Ledger.Due(ctx, ledger.DueLetter, time.Time{}, p.Ledger.Now())
	if err != nil {
		return next, err
	}
	for _, one := range due {
		if p.Ledger.Now().Before(p.later[one]) {
			continue
		}
		delete(p.later, one)
		failed := p.try(ctx, one)
		if ctx.Err() != nil {
			return next, ctx.Err()
		}
		if failed != nil {
			err = errors.Join(err, fmt.Errorf("%s of %s: %w", one.ID, one.Club, failed))
			if p.later == nil {
				p.later = map[ledger.Due]time.Time{}
			}
			p.later[one] = p.Ledger.Now().Add(firstWait)
		}
	}
	left, failed := p.Ledger.Due(ctx, ledger.DueLetter, p.Ledger.Now(), time.Time{})
	if len(left) > 0 {
		next = left[0].At
	}
	return next, errors.Join(err, failed)
}

// try hands one letter to the mail server, and writes down what came of it.
func (p *Post) try(ctx context.Context, due ledger.Due) error {
	letter, message, err := p.begin(ctx, due)
	if err != nil || message == nil {
		return err
	}
	within, stop := context.WithTimeout(ctx, sendTime)
	defer stop()
	sent := p.Mailer.Send(within, *message)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	var refused *post.RefusedError
	switch {
	case sent == nil:
		letter.State, letter.SentAt, letter.Refusal = pb.Letter_SENT, timestamppb.New(p.Ledger.Now()), ""
	case errors.As(sent, &refused):
		letter.Refusal = refused.What
		if refused.ForGood {
			letter.State = pb.Letter_GAVE_UP
		}
	default:
		letter.Refusal = "not known"
	}
	if sent != nil {
		p.Log.Warn("a letter was not taken", "letter", letter.Name, "tries", letter.Tries, "refusal", letter.Refusal,
			"again", letter.State == pb.Letter_QUEUED)
	}
	return p.Ledger.Update(ctx, due.Club, func(tx *ledger.Tx) error { return tx.SaveLetter(letter) })
}

// begin writes down that a letter is tried now and, should nothing more be heard of it, when again; and composes it. There is no
// message when it is not to be sent any more.
func (p *Post) begin(ctx context.Context, due ledger.Due) (letter *pb.Letter, message *post.Message, err error) {
	err = p.Ledger.Update(ctx, due.Club, func(tx *ledger.Tx) error {
		message = nil
		ride, number, _ := strings.Cut(due.ID, "/")
		if letter, err = tx.Letter(ride, number); err != nil {
			return err
		}
		if letter.State != pb.Letter_QUEUED || letter.NextTryAt.AsTime().After(tx.Now) { // another server has it
			return nil
		}
		if tx.Now.After(letter.GiveUpAt.AsTime()) {
			return giveUp(tx, letter, "it could not be handed over in time")
		}
		if why, err := outdated(tx, letter); err != nil || why != "" {
			if err == nil {
				err = giveUp(tx, letter, why)
			}
			return err
		}
		member, err := tx.Member(names.Last(letter.Member))
		if err != nil && !fault.Is(err, pb.Reason_NOT_FOUND) {
			return err
		}
		if member.GetEmail() == "" || member.GetSuspendedAt() != nil {
			return giveUp(tx, letter, "the member gets none any more")
		}
		letter.Tries++
		letter.NextTryAt = timestamppb.New(tx.Now.Add(min(longestWait, firstWait<<min(letter.Tries-1, 10))))
		if message, err = p.compose(tx, letter, member); err != nil {
			return err
		}
		return tx.SaveLetter(letter)
	})
	return letter, message, err
}

// outdated says why what a letter tells is no longer so; empty while it is. Whoever gets a letter late would take it for the
// newest.
func outdated(tx *ledger.Tx, letter *pb.Letter) (why string, err error) {
	id := names.Part(letter.Name, "rides")
	ride, err := tx.Ride(id)
	if err != nil {
		return "", err
	}
	switch letter.Kind {
	case pb.Letter_ROSTER:
		if ride.State == pb.Ride_CALLED_OFF || ride.RosterNumber > letter.Issue {
			return "something newer has come since", nil
		}
	case pb.Letter_PLACE_CAME_FREE:
		signup, err := tx.FindSignup(id, names.Last(letter.Member))
		if err != nil || signup.GetState() != pb.Signup_IN || ride.State == pb.Ride_CALLED_OFF {
			return "the member has no place any more", err
		}
	}
	return "", nil
}

// giveUp ends a letter. What a mail server said before stays with it.
func giveUp(tx *ledger.Tx, letter *pb.Letter, why string) error {
	letter.State = pb.Letter_GAVE_UP
	if letter.Refusal != "" {
		why += ": " + letter.Refusal
	}
	letter.Refusal = why
	return tx.SaveLetter(letter)
}

// compose makes the message of a letter from what it is about.
func (p *Post) compose(tx *ledger.Tx, letter *pb.Letter, member *pb.Member) (*post.Message, error) {
	id := names.Part(letter.Name, "rides")
	about, err := issueAbout(tx, id, letter.Issue)
	if err != nil {
		return nil, err
	}
	if letter.Issue > 0 {
		ride, err := tx.Ride(id)
		if err != nil {
			return nil, err
		}
		may, err := privyTo(tx, &caller{club: tx.Club, member: member}, ride, about)
		if err != nil {
			return nil, err
		}
		about = roster.SeenBy(about, may)
	}
	if p.PagesAddress != "" && letter.Issue > 0 {
		about.PageUrl = p.PagesAddress + "/" + about.Name
	}
	message := &post.Message{
		ID: strings.ReplaceAll(letter.Name, "/", "."), Name: member.DisplayName, Address: member.Email, At: letter.QueuedAt.AsTime(),
	}
	notice := ""
	if letter.Kind == pb.Letter_OVERDUE {
		found, err := tx.Notice(id, letter.Notice)
		if err != nil {
			return nil, err
		}
		notice = found.Text
	}
	message.Subject, message.Text = render.Mail(letter, about, member.DisplayName, notice)
	if letter.Kind != pb.Letter_ROSTER && letter.Kind != pb.Letter_CALLED_OFF {
		return message, nil
	}
	if letter.Kind == pb.Letter_ROSTER {
		var brief bytes.Buffer
		if err := render.Text(&brief, about, render.TextOptions{Part: render.BriefOnly}); err != nil {
			return nil, err
		}
		message.Attachments = append(message.Attachments, post.Attachment{
			Name: fmt.Sprintf("brief-%s-%d.txt", id, letter.Issue), Type: "text/plain", Content: brief.Bytes()})
	}
	entry, err := calendarOf(tx, letter, about, member)
	message.Attachments = append(message.Attachments, entry...)
	return message, err
}

// calendarOf is the ride as an entry for the member's calendar, or what takes the entry out again.
func calendarOf(tx *ledger.Tx, letter *pb.Letter, issue *pb.Roster, member *pb.Member) ([]post.Attachment, error) {
	id := names.Part(letter.Name, "rides")
	ride, err := tx.Ride(id)
	if err != nil {
		return nil, err
	}
	signup, err := tx.FindSignup(id, names.Last(member.Name))
	if err != nil {
		return nil, err
	}
	entry := render.Entry{Ride: ride, Member: member.Name, Name: member.DisplayName, Signup: signup, Club: issue.ClubTitle, Zone: issue.Zone}
	if letter.Issue > 0 {
		entry.Roster = issue
	}
	var written bytes.Buffer
	if err := render.Calendar(&written, entry, tx.Now); err != nil {
		return nil, err
	}
	return []post.Attachment{{Name: "ride-" + id + ".ics", Type: "text/calendar", Content: written.Bytes()}}, nil
}

// issueAbout is the issue that a letter is about; without one, as much of a roster as a ride alone gives.
func issueAbout(tx *ledger.Tx, ride string, issue int32) (*pb.Roster, error) {
	if issue > 0 {
		return tx.Roster(ride, issue)
	}
	found, err := tx.Ride(ride)
	if err != nil {
		return nil, err
	}
	club, err := tx.ClubRecord()
	if err != nil {
		return nil, err
	}
	return &pb.Roster{Ride: found, ClubTitle: club.Title, Zone: club.Zone}, nil
}
