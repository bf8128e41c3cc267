package web

import (
	"encoding/json"
	"errors"
	"io"
	"net/http"

	"gritward/internal/fault"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// sentMarks are marks that a device made, perhaps long ago and without a signal.
type sentMarks struct {
	// By is the member who made them; Now what the device's clock shows as it sends, ms since 1970.
	By    string     `json:"by"`
	Now   int64      `json:"now"`
	Early bool       `json:"early"`
	Marks []sentMark `json:"marks"`
}

type sentMark struct {
	ID      string `json:"id"`
	Member  string `json:"m"`
	What    string `json:"w"`
	At      int64  `json:"at"` // by the device's clock, ms since 1970
	Note    string `json:"n"`
	Group   string `json:"g"`
	Strikes string `json:"s"`
}

// lineRecorded are the marks as the server has them.
type lineRecorded struct {
	Marks []lineMark `json:"marks"`
}

// startMarks records marks that a device kept. A mark has the id that the device gave it, so that sent twice it counts once.
func (v *visit) startMarks() error {
	sent := &sentMarks{}
	if err := v.startSent(sent); err != nil {
		return v.startAnswer(nil, err)
	}
	if sent.By != v.me() {
		return v.notTheirs()
	}
	request := &pb.RecordMarksRequest{Parent: v.ride(), Early: sent.Early, DeviceNow: lineInstant(sent.Now)}
	for _, one := range sent.Marks {
		request.Marks = append(request.Marks, &pb.Mark{Name: v.ride() + "/marks/" + one.ID, Member: names.Member(v.r.PathValue("club"), one.Member),
			What: pb.Mark_What(pb.Mark_What_value[one.What]), At: lineInstant(one.At), Note: one.Note, Group: one.Group, Strikes: one.Strikes})
	}
	answer, err := v.rolls.RecordMarks(v.ctx, request)
	return v.startAnswer(lineRecorded{lineMarks(answer.GetMarks())}, err)
}

// notTheirs says that what was sent is of somebody else than who is signed in.
func (v *visit) notTheirs() error {
	return v.startJSON(http.StatusForbidden, lineAnswer{Reason: pb.Reason_NOT_ALLOWED.String(), Words: "somebody else is signed in", Other: true})
}

// startSent reads what a script sent.
func (v *visit) startSent(into any) error {
	reading := json.NewDecoder(v.r.Body)
	reading.DisallowUnknownFields()
	err := reading.Decode(into)
	if err == nil {
		if _, more := reading.Token(); !errors.Is(more, io.EOF) {
			err = errors.New("there is more than one value")
		}
	}
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		return fault.New(pb.Reason_MESSAGE_TOO_LARGE, "more was sent than is taken (%d kB at most)", maxForm>>10)
	case err != nil:
		return fault.New(pb.Reason_FIELD_INVALID, "what the page sent cannot be read; load the page anew")
	}
	return nil
}

// ownFault is a fault that was made here, not by the server; nil for any other error.
func ownFault(err error) *fault.Error {
	var own *fault.Error
	if errors.As(err, &own) {
		return own
	}
	return nil
}
