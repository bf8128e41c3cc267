package cli

import (
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"gritward/internal/settings"
	pb "gritward/proto/gritward/v1"
)

// next says what to do about a refusal of the server; "" when its message says it already.
func (a *app) next(r refusal) string {
	switch r.reason {
	case pb.Reason_FIELD_INVALID:
		return "put right what is named and run it again; " + a.cmd.CommandPath() + " --help tells what each takes"
	case pb.Reason_NOT_FOUND:
		return lookUp(r.message)
	case pb.Reason_ALREADY_EXISTS:
		return "take another id, or change the one that is there"
	case pb.Reason_NOT_SIGNED_IN:
		return "this device's token is not good any more: ask the club's secretary for a code, then gritward accept CODE --replace"
	case pb.Reason_NOT_ALLOWED:
		return notAllowed(r.message)
	case pb.Reason_CHANGED_MEANWHILE:
		return "look at it again, then run the command again"
	case pb.Reason_NO_POLICY:
		return "a secretary adopts one: gritward policy adopt FILE"
	case pb.Reason_POLICY_INVALID:
		return "gritward policy check FILE shows each place in the file"
	case pb.Reason_ROUTE_INVALID:
		return "gritward route FILE.gpx reads the file without the server; export it again as a GPX track"
	case pb.Reason_RIDE_OVER:
		if len(r.lines) > 0 { // a start in the past, for one
			return "put right what is named and run it again"
		}
		return "gritward ride show RIDE tells its state and start"
	case pb.Reason_SIGNUP_CLOSED:
		return "the ride's leader can still sign somebody up; gritward ride show RIDE tells the times"
	case pb.Reason_CIVIL_TIME:
		return "take another start, clear of the change of the clocks"
	case pb.Reason_CALL_OFF:
		return "call it off (gritward ride call-off RIDE --reason TEXT), or write down why it goes out: " +
			"gritward ride change RIDE --reason TEXT"
	case pb.Reason_FORECAST_INVALID:
		return "read another forecast, or enter the weather by hand: gritward ride change RIDE --temperature C"
	case pb.Reason_FORECAST_STALE:
		return "read a newer one (gritward ride forecast RIDE), or take it out (--drop) and enter the weather by hand: " +
			"gritward ride change RIDE --temperature C"
	case pb.Reason_FORECAST_SHORT:
		return "forecasts are issued from about 9 days before (it depends on the service): read one then, and until then enter the weather by hand: " +
			"gritward ride change RIDE --temperature C"
	case pb.Reason_NO_WEATHER_SERVICE:
		return "have the operator set forecast_url, or give --file, or enter the weather by hand: gritward ride change RIDE --temperature C"
	case pb.Reason_CONTACTS_SHUT:
		return "in an emergency call the emergency number first; gritward ride mark RIDE signed-on MEMBER records a sign-on"
	case pb.Reason_HOME_TOO_SOON:
		return "who turned back is marked turned-back; if it is so, run it again with --early"
	case pb.Reason_HELD_BIKE:
		return "choose another group, or set the rules aside with --override TEXT and --held-bike-rides, which says that you have seen what is wrong " +
			"with the bike; it stands on the roster under your name"
	case pb.Reason_REQUEST_ID_REUSED:
		return "run the command again"
	case pb.Reason_UNAVAILABLE, pb.Reason_BUSY:
		return "try again in a minute"
	case pb.Reason_INTERNAL, pb.Reason_STORE_DAMAGED, pb.Reason_STORE_FULL:
		return "tell whoever runs the server; its log says more"
	case pb.Reason_TOO_MANY_CALLS, pb.Reason_TOO_MANY_SIGN_INS:
		return "wait as long as it says, then run the command again"
	case pb.Reason_TOO_MANY_CONNECTIONS:
		return "end other programs that use the server, or try again in a minute"
	case pb.Reason_MESSAGE_TOO_LARGE:
		return "send less at once"
	case pb.Reason_INVITE_NOT_GOOD:
		return "ask the secretary for a new code; each is good for one device and for a while only"
	case pb.Reason_LAST_SECRETARY:
		return "hand over first: gritward member change MEMBER --roles member,secretary"
	}
	return ""
}

// notAllowed says what to do where the caller may not do something, and who can.
func notAllowed(message string) string {
	switch {
	case strings.Contains(message, "you are suspended"):
		return "speak to a secretary of the club, who can let you in again; until then every command is refused"
	case strings.Contains(message, "you were a guest"):
		return "" // what it says is all that can be done
	case strings.Contains(message, "only for those who lead the ride"): // nobody else reads emergency contacts, secretaries neither
		return "ask the ride's leader, or who leads the group: they can on the day, once the rider has signed on. In an emergency call the emergency number first"
	case strings.Contains(message, "; ask "):
		return "gritward whoami shows what you may do"
	}
	return "ask a secretary of the club; gritward whoami shows what you may do"
}

// lookUp says where a record that is not there can be looked up.
func lookUp(message string) string {
	for _, kind := range []struct{ what, where string }{
		{"no member ", "gritward member list shows the members"}, {"no policy ", "gritward policy history shows them"},
		{"no bike ", "gritward bike list shows them"}, {"no invite ", "gritward member invites --all shows them"}, {"no device ", "gritward member device list shows them"},
		{"no entry ", "gritward care list BIKE shows them"}, {"no issue ", "gritward ride show RIDE tells the newest"},
		{"no sign-up ", "gritward ride signups RIDE shows who has signed up"},
	} {
		if strings.Contains(message, kind.what) {
			return kind.where
		}
	}
	return "gritward ride list shows the rides"
}

// onTheWay says what happened and what to do when the error did not come from the service: nobody answered, or something
// else did. "" when nothing better can be said than what the error says itself.
func (a *app) onTheWay(made *status.Status) string {
	message := made.Message()
	switch {
	case strings.Contains(message, "handshake failed"):
		return "no TLS 1.3 with " + a.server + ": ask whoever runs the server; one on this machine without TLS needs no --ca-file"
	case strings.Contains(message, "server preface"):
		return "what answers at " + a.server + " does not speak plainly: if it is set up with TLS, accept the whole invite, or name its " +
			"certificate with --ca-file; otherwise check --server"
	case made.Code() == codes.Unavailable && !settings.IsLoopback(a.server):
		return "no server answers at " + a.server + ": look whether this device is connected, and ask whoever runs your club's server; --server names another"
	case made.Code() == codes.Unavailable:
		return "no server answers at " + a.server + ": start one with `gritwardd serve`, or set --server"
	case made.Code() == codes.DeadlineExceeded:
		return "no answer in time from " + a.server + ": look at what was done before repeating it; --timeout gives it longer"
	case made.Code() == codes.Canceled:
		return "interrupted: look at what was done before repeating it"
	case made.Code() == codes.Unimplemented:
		return "the server at " + a.server + " does not know this call: it is of another release, or not gritwardd"
	case made.Code() == codes.ResourceExhausted:
		return "the file or the answer is too large for the server"
	}
	return ""
}
