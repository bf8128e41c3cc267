package web

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"

	"google.golang.org/grpc/codes"

	"gritward/internal/fault"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// fail shows what stands in the way of a page. Who is not signed in is asked in, and loses nothing of what was typed.
func (v *visit) fail(err error) {
	if errors.Is(err, context.Canceled) && v.r.Context().Err() != nil {
		return // the browser is gone
	}
	problem := problemOf(err)
	if problem.Reason == pb.Reason_NOT_SIGNED_IN {
		v.askIn(err)
		return
	}
	if problem.Reason == pb.Reason_REASON_UNSPECIFIED && fault.Status(err).Code() == codes.Internal {
		v.broken(err)
		return
	}
	v.fill(statusOf(problem.Reason), "problem", titleOf(problem.Reason), nil, problem)
}

// refuse shows a form again with what stands in the way of it; what is no fault of the form is shown by itself.
func (v *visit) refuse(err error, look, title string, main any) {
	problem := problemOf(err)
	switch problem.Reason {
	case pb.Reason_REASON_UNSPECIFIED, pb.Reason_INTERNAL, pb.Reason_NOT_SIGNED_IN:
		v.fail(err)
		return
	}
	v.fill(statusOf(problem.Reason), look, title, main, problem)
}

// problemOf is what an error says: one that came over the wire, or one of the pages' own.
func problemOf(err error) *fault.Error {
	var own *fault.Error
	if errors.As(err, &own) {
		return own
	}
	return fault.Read(err)
}

// statusOf is the status of HTTP (RFC 9110) for a reason, by the gRPC code of it.
func statusOf(reason pb.Reason) int {
	switch fault.Code(reason) {
	case codes.InvalidArgument:
		return http.StatusUnprocessableEntity
	case codes.NotFound:
		return http.StatusNotFound
	case codes.AlreadyExists, codes.Aborted, codes.FailedPrecondition:
		return http.StatusConflict
	case codes.Unauthenticated:
		return http.StatusUnauthorized
	case codes.PermissionDenied:
		return http.StatusForbidden
	case codes.ResourceExhausted:
		if reason == pb.Reason_MESSAGE_TOO_LARGE {
			return http.StatusRequestEntityTooLarge
		}
		return http.StatusTooManyRequests
	case codes.Unavailable:
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// titleOf names a problem that has a page of its own.
func titleOf(reason pb.Reason) string {
	switch fault.Code(reason) {
	case codes.NotFound:
		return "Not found"
	case codes.PermissionDenied:
		return "That is not yours to do"
	case codes.Aborted:
		return "It was changed meanwhile"
	case codes.ResourceExhausted:
		return "Too much at once"
	case codes.Unavailable:
		return "Not now"
	}
	return "That cannot be done"
}

// changedMeanwhile says that a record is no longer as the page had it, which may show a form again.
func changedMeanwhile(form bool) string {
	const what = "This was changed while the page was open, on another device or by somebody else. "
	if form {
		return what + "Nothing you typed is lost. Look first at what is there now, in another window: saving again puts yours in its place."
	}
	return what + "Open it again, and repeat what you wanted to do."
}

// goOnFrom has a form that was refused since its record was changed meanwhile be saved upon the record as it is now.
func (v *visit) goOnFrom(err error, field, etag string) {
	if problemOf(err).Reason == pb.Reason_CHANGED_MEANWHILE {
		goesOnFrom(v.form(), field, etag)
	}
}

// noneKnown is the field of a form that was opened when there was no record yet: an empty etag would take the place of whatever
// was made since.
const noneKnown = "none_known"

// goesOnFrom has a form say which state of its record it goes on from; an empty etag: there is none yet.
func goesOnFrom(form url.Values, field, etag string) {
	form.Del(noneKnown)
	form.Del(field)
	if etag == "" {
		form.Set(noneKnown, "true")
	} else {
		form.Set(field, etag)
	}
}

// GoesOnFrom is the hidden field that says which state of its record a form goes on from, its etag being in the field of that name.
func (f Form) GoesOnFrom(field string) Field {
	if f.Value(noneKnown) != "" {
		field = noneKnown
	}
	return Field{Name: field, Value: f.Value(field)}
}

// amiss says at the head of a form what stands in the way; of fields that are marked, to look at them.
func amiss(s sheet) string {
	for _, field := range s.Problem.Fields {
		if s.Problem.Message == fault.NotAsItMustBe && labelled(s, field.Path) != nil {
			return "Some of what you filled in needs a change: see the marked fields."
		}
	}
	if s.Problem.Reason == pb.Reason_CHANGED_MEANWHILE && strings.HasPrefix(s.Problem.Message, "clubs/") { // it names the record by its address
		return changedMeanwhile(s.Main != nil)
	}
	return phrase.Stopped(phrase.Sentence(s.Problem.Message))
}
