package ledger

import (
	"context"
	"sync"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// TellRide adds what an entry of the audit log tells of a ride to the changes of that ride.
func (t *Tx) TellRide(entry *pb.AuditEntry) error {
	news, ride := newsOf()[entry.Method], names.Part(entry.Resource, "rides")
	if news == pb.RideNews_RIDE_NEWS_UNSPECIFIED || ride == "" {
		return nil
	}
	last, err := t.LastChange(ride)
	if err != nil {
		return err
	}
	return t.save(changeKey(ride, last+1), &pb.RideChange{
		Number: last + 1, At: t.Stamp(), News: news, Record: entry.Resource, What: entry.What})
}

// LastChange is the number of a ride's last change; 0 before the first.
func (t *Tx) LastChange(ride string) (number int64, err error) {
	err = t.tx.ScanDown("change/"+ride+"/", "", func(key string, _ []byte) (_ bool, err error) {
		number, err = numberOf(key)
		return false, err
	})
	return number, err
}

// Changes visits the changes of a ride in order, from the one after the number given; at most limit, 0: all.
func (t *Tx) Changes(ride string, after int64, limit int, visit func(*pb.RideChange) error) error {
	return each(t, "change/"+ride+"/", changeKey(ride, after), func() *pb.RideChange { return &pb.RideChange{} }, limited(limit, visit))
}

// WatchRide tells that a ride may have changed; see Watch of store.Store.
func (l *Ledger) WatchRide(ctx context.Context, club, ride string) (<-chan struct{}, error) {
	return l.store.Watch(ctx, club, "change/"+ride+"/")
}

func changeKey(ride string, number int64) string { return numbered("change/"+ride+"/", number, 16) }

// newsOf says what a call of a method changes about a ride, by the method's name as the audit log has it: the option
// (news) of the protocol.
var newsOf = sync.OnceValue(func() map[string]pb.RideNews {
	table := map[string]pb.RideNews{}
	protoregistry.GlobalFiles.RangeFilesByPackage(pb.File_gritward_v1_options_proto.Package(), func(file protoreflect.FileDescriptor) bool {
		for i := range file.Services().Len() {
			service := file.Services().Get(i)
			for j := range service.Methods().Len() {
				method := service.Methods().Get(j)
				if news, _ := proto.GetExtension(method.Options(), pb.E_News).(pb.RideNews); news != pb.RideNews_RIDE_NEWS_UNSPECIFIED {
					table[string(service.FullName())+"/"+string(method.Name())] = news
				}
			}
		}
		return true
	})
	return table
})
