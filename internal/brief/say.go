package brief

import "google.golang.org/protobuf/types/known/timestamppb"

// clock is an instant as HH:MM in the club's zone, with the day where it is not the ride's, inside a sentence.
func (t *teller) clock(at *timestamppb.Timestamp) string {
	if !at.IsValid() {
		return "a time not known"
	}
	return t.watch.Clock(at)
}
