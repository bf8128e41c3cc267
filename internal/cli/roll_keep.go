package cli

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/names"
	"gritward/internal/phrase"
	"gritward/internal/settings"
	"gritward/internal/wholefile"
	pb "gritward/proto/gritward/v1"
)

// What the client keeps of roll calls lies in the folder "rollcall" beside its settings, for its user alone: the roll calls
// last read, so that they can be told without the server, and the marks that are not sent yet, each call a file of its own,
// written whole or not at all. A mark goes away only when the server has it, or has refused it for what it
// says: then it lies in "refused".

// rollFolder is where that is, for the club of the token.
func (s *session) rollFolder() (string, error) {
	file := cmp.Or(s.settingsFile, settings.ClientFile())
	if file == "" {
		return "", errors.New("there is no folder to keep marks in: set HOME, or name a file with --settings")
	}
	return filepath.Join(filepath.Dir(file), "rollcall", s.set.Club()), nil
}

// unreachable tells that a call did not come through, and may later.
func unreachable(err error) bool {
	made, ok := grpcStatus(err)
	return ok && (made.Code() == codes.Unavailable || made.Code() == codes.DeadlineExceeded)
}

// keepUnsent keeps a call with marks until the server can be reached.
func (s *session) keepUnsent(request *pb.RecordMarksRequest) error {
	folder, err := s.rollFolder()
	if err != nil {
		return err
	}
	content, err := protojson.Marshal(request)
	if err != nil {
		return err
	}
	name := fmt.Sprintf("%020d-%s.json", s.io.Now().UnixNano(), names.Last(request.GetMarks()[0].GetName()))
	return wholefile.Create(filepath.Join(folder, "unsent", name), content)
}

// unsent are the calls that are kept, in the order in which they were made, with their files.
func (s *session) unsent() (files []string, requests []*pb.RecordMarksRequest, err error) {
	folder, err := s.rollFolder()
	if err != nil {
		return nil, nil, err
	}
	entries, err := os.ReadDir(filepath.Join(folder, "unsent"))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, nil, err
	}
	for _, entry := range entries { // by name, which begins with the time
		path := filepath.Join(folder, "unsent", entry.Name())
		if entry.IsDir() || !strings.HasSuffix(path, ".json") {
			continue
		}
		content, err := os.ReadFile(path)
		if errors.Is(err, fs.ErrNotExist) {
			continue // another command has just sent it
		}
		if err != nil {
			return nil, nil, err
		}
		request := &pb.RecordMarksRequest{}
		if err := protojson.Unmarshal(content, request); err != nil {
			return nil, nil, fmt.Errorf("%s holds marks that are not sent, and cannot be read: %w", path, err)
		}
		files, requests = append(files, path), append(requests, request)
	}
	return files, requests, nil
}

// sendUnsent sends what is kept, and tells what came of it. What the server refuses for what it says is put aside with its
// reason, mark by mark, so that one does not hold up the others; it is told where. Every other mark stays kept.
func (s *session) sendUnsent() error {
	files, requests, err := s.unsent()
	if err != nil || len(files) == 0 {
		return err
	}
	sent, aside, why := 0, 0, ""
	for i, request := range requests {
		one := &resending{session: s, done: map[string]bool{}}
		err = one.send(request)
		if kept := one.keep(files[i], request); kept != nil {
			return errors.Join(err, kept)
		}
		sent, aside = sent+one.sent, aside+one.aside
		if err != nil {
			why = whyUnsent(err)
		}
		if err != nil && !denied(err) {
			break
		}
		err = nil // marks of another ride may be let through
	}
	if why != "" {
		s.say("%s sent, %d not yet: %s; what is not sent stays on this device", phrase.Counted(sent, "kept mark", "kept marks"),
			countMarks(requests)-sent-aside, why)
		return err
	}
	s.say("%s sent", phrase.Counted(sent, "kept mark", "kept marks"))
	return nil
}

// denied tells that the caller may not make a call, as things are.
func denied(err error) bool {
	made, ok := grpcStatus(err)
	return ok && made.Code() == codes.PermissionDenied
}

// whyUnsent says why marks could not be sent that may be sent later.
func whyUnsent(err error) string {
	made, ok := grpcStatus(err)
	switch {
	case !ok:
		return "they could not be put aside"
	case unreachable(err):
		return "the server cannot be reached"
	case made.Code() == codes.Canceled:
		return "the command was interrupted"
	case denied(err):
		return "you may not record them now; ask who leads the ride"
	case made.Code() == codes.Unauthenticated:
		return "this device is not signed in"
	case made.Code() == codes.ResourceExhausted:
		return "the server takes no more for now"
	}
	return "the server failed at them"
}

// resending is the sending of one call that was kept.
type resending struct {
	*session
	sent, aside int
	// done are the marks that were sent or put aside.
	done map[string]bool
}

// send sends a call; an error means that what is not done yet may be sent later. A call that is refused is sent mark by mark.
func (r *resending) send(request *pb.RecordMarksRequest) error {
	_, err := r.record(request)
	switch {
	case err == nil:
		r.sent += len(request.GetMarks())
	case !refusedForGood(err):
		return err
	case len(request.GetMarks()) == 1:
		if err := r.putAside(request, err); err != nil {
			return err
		}
		r.aside++
	default:
		for _, mark := range request.GetMarks() {
			if err := r.send(&pb.RecordMarksRequest{Parent: request.GetParent(), Early: request.GetEarly(), Marks: []*pb.Mark{mark}}); err != nil {
				return err
			}
		}
	}
	for _, mark := range request.GetMarks() {
		r.done[mark.GetName()] = true
	}
	return nil
}

// refusedForGood tells that the server refuses a mark for what it says, and would again. Who may not record it now may
// again later, and everything else is no answer to the mark.
func refusedForGood(err error) bool {
	made, ok := grpcStatus(err)
	return ok && slices.Contains([]codes.Code{codes.InvalidArgument, codes.FailedPrecondition, codes.AlreadyExists,
		codes.NotFound, codes.OutOfRange}, made.Code())
}

// keep leaves in a call's file what is neither sent nor put aside; without any the file goes away.
func (r *resending) keep(file string, request *pb.RecordMarksRequest) error {
	var left []*pb.Mark
	for _, mark := range request.GetMarks() {
		if !r.done[mark.GetName()] {
			left = append(left, mark)
		}
	}
	switch len(left) {
	case len(request.GetMarks()):
		return nil
	case 0:
		if err := os.Remove(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err // sent again it counts once
		}
		return nil
	}
	content, err := protojson.Marshal(&pb.RecordMarksRequest{Parent: request.GetParent(), Early: request.GetEarly(), Marks: left})
	if err != nil {
		return err
	}
	return wholefile.Write(file, content)
}

// putAside keeps a mark that the server refused, and tells where.
func (r *resending) putAside(request *pb.RecordMarksRequest, refused error) error {
	folder, err := r.rollFolder()
	if err != nil {
		return err
	}
	content, err := protojson.Marshal(request)
	if err != nil {
		return err
	}
	mark := request.GetMarks()[0]
	path := filepath.Join(folder, "refused", names.Last(mark.GetName())+".json")
	if err := wholefile.Write(path, content); err != nil {
		return err
	}
	r.say("the server refused a kept mark, %s of %s: %s\n  it is kept in %s; mark the rider again as it should be",
		word(mark.GetWhat()), r.ref(mark.GetMember()), strings.TrimSpace(r.explain(refused)), path)
	return nil
}

// record sends marks with what the device's clock shows.
func (s *session) record(request *pb.RecordMarksRequest) (*pb.RecordMarksResponse, error) {
	request.DeviceNow = timestamppb.New(s.io.Now())
	return s.rolls.RecordMarks(s.ctx, request)
}

func countMarks(requests []*pb.RecordMarksRequest) (n int) {
	for _, request := range requests {
		n += len(request.GetMarks())
	}
	return n
}

// keepRoll keeps a roll call that was read.
func (s *session) keepRoll(basis *pb.RollBasis, marks []*pb.Mark) error {
	folder, err := s.rollFolder()
	if err != nil {
		return err
	}
	content, err := proto.Marshal(&pb.KeptRollCall{Basis: basis, Marks: marks})
	if err != nil {
		return err
	}
	return wholefile.Write(filepath.Join(folder, names.Last(basis.GetRide())+".kept"), content)
}

// keptRoll is the roll call of a ride as it was read last; nil where it was not, or cannot be read any more.
func (s *session) keptRoll(ride string) *pb.KeptRollCall {
	folder, err := s.rollFolder()
	if err != nil {
		return nil
	}
	content, err := os.ReadFile(filepath.Join(folder, names.Last(ride)+".kept"))
	kept := &pb.KeptRollCall{}
	if err != nil || proto.Unmarshal(content, kept) != nil || kept.GetBasis().GetRide() != ride {
		return nil
	}
	return kept
}

// readRoll reads what the roll call of a ride rests on, and its marks: from the server, after what is kept was sent; where it
// cannot be reached from what was read last, with reached false.
func (s *session) readRoll(ref string) (kept *pb.KeptRollCall, reached bool, err error) {
	ride, err := s.rideName(ref)
	if err != nil {
		return nil, false, err
	}
	kept = s.keptRoll(ride)
	err = s.sendUnsent()
	if err == nil {
		var fresh *pb.KeptRollCall
		if fresh, err = s.fetchRoll(ride, kept.GetMarks()); err == nil {
			return fresh, true, s.keepRoll(fresh.Basis, fresh.Marks)
		}
	}
	if !unreachable(err) || kept == nil {
		return nil, false, err
	}
	_, requests, err := s.unsent()
	for _, request := range requests {
		if request.GetParent() == ride {
			kept.Marks = append(kept.Marks, request.GetMarks()...)
		}
	}
	return kept, false, err
}

// fetchRoll reads a roll call from the server, and the marks that are newer than those that are here.
func (s *session) fetchRoll(ride string, marks []*pb.Mark) (*pb.KeptRollCall, error) {
	call, err := s.rolls.GetRollCall(s.ctx, &pb.GetRollCallRequest{Name: ride})
	if err != nil {
		return nil, s.withRides(err)
	}
	since := int64(0)
	for _, mark := range marks {
		since = max(since, mark.GetNumber())
	}
	if since > call.GetNewest() {
		marks, since = nil, 0 // another store
	}
	for {
		answer, err := s.rolls.ListMarks(s.ctx, &pb.ListMarksRequest{Parent: ride, Since: since, PageSize: pageSize})
		if err != nil {
			return nil, err
		}
		marks = append(marks, answer.GetMarks()...)
		if len(answer.GetMarks()) == 0 || !answer.GetMore() {
			return &pb.KeptRollCall{Basis: call.GetBasis(), Marks: slices.Clip(marks)}, nil
		}
		since = marks[len(marks)-1].GetNumber()
	}
}

// say tells a person something beside the answer.
func (a *app) say(format string, args ...any) {
	fmt.Fprintf(a.io.Err, "%s\n", cleanLines(fmt.Sprintf(format, args...)))
}
