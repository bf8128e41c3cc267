package server_test

import (
	"bytes"
	"context"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/encoding"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/mem"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"gritward/internal/ledger"
	"gritward/internal/server"
	"gritward/internal/store"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

// undoing is a store that remembers what was written, and takes it back: so that every input of a fuzz finds the same world.
type undoing struct {
	store.Store
	mu sync.Mutex
	// before are the values of what was written, by club and key; nil: there was none.
	before map[string]map[string][]byte
}

// undoTx notes what is there before it is written over.
type undoTx struct {
	store.Tx
	before map[string][]byte
}

// Update implements store.Store.
func (u *undoing) Update(ctx context.Context, club string, use func(store.Tx) error) error {
	noted := map[string][]byte{}
	err := u.Store.Update(ctx, club, func(tx store.Tx) error {
		clear(noted)
		return use(&undoTx{tx, noted})
	})
	u.mu.Lock()
	defer u.mu.Unlock()
	for key, value := range noted {
		if u.before[club] == nil {
			u.before[club] = map[string][]byte{}
		}
		if _, there := u.before[club][key]; !there && err == nil {
			u.before[club][key] = value
		}
	}
	return err
}

func (t *undoTx) note(key string) error {
	if _, noted := t.before[key]; noted {
		return nil
	}
	value, err := t.Get(key)
	t.before[key] = value
	return err
}

// Put implements store.Tx.
func (t *undoTx) Put(key string, value []byte) error {
	return errors.Join(t.note(key), t.Tx.Put(key, value))
}

// Delete implements store.Tx.
func (t *undoTx) Delete(key string) error { return errors.Join(t.note(key), t.Tx.Delete(key)) }

// changed lists the keys that have another value now than before.
func (u *undoing) changed(t testing.TB) (keys []string) {
	t.Helper()
	for club, before := range u.before {
		if err := u.View(context.Background(), club, func(tx store.Tx) error {
			for key, was := range before {
				is, err := tx.Get(key)
				if err != nil {
					return err
				}
				if (is == nil) != (was == nil) || !bytes.Equal(is, was) {
					keys = append(keys, club+"/"+key)
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	slices.Sort(keys)
	return keys
}

// undo takes back all that was written.
func (u *undoing) undo(t testing.TB) {
	t.Helper()
	for club, before := range u.before {
		if err := u.Store.Update(context.Background(), club, func(tx store.Tx) error {
			for key, was := range before {
				write := func() error { return tx.Put(key, was) }
				if was == nil {
					write = func() error { return tx.Delete(key) }
				}
				if err := write(); err != nil {
					return err
				}
			}
			return nil
		}); err != nil {
			t.Fatal(err)
		}
	}
	u.before = map[string]map[string][]byte{}
}

// attacked is a world with records of most kinds, to call anything on.
type attacked struct {
	*place
	visitors []visitor
	undoing  *undoing
	methods  []string
	table    map[string]*pb.Access
	words    []string
	files    [][]byte
}

func newAttacked(f testing.TB) *attacked {
	p, visitors := accessPlace(f)
	must := func(err error) {
		f.Helper()
		if err != nil {
			f.Fatal(told(err))
		}
	}
	must(p.giveContacts("mia", map[string]string{"contact": "Runa Quill", "phone": "07700 900124"}))
	_, err := p.bikes.RecordCare(p.as("mia"), &pb.RecordCareRequest{Parent: club + "/members/mia/bikes/bike-1", Entry: &pb.CareEntry{Work: pb.CareEntry_WASHED}})
	must(err)
	code := p.world.invite("sec", &pb.Invite{DisplayName: "Somebody Else"}).Code
	a := &attacked{place: p, visitors: visitors, table: server.AccessTable(), undoing: &undoing{Store: p.store, before: map[string]map[string][]byte{}}}
	p.held.Store = a.undoing
	a.methods = slices.Sorted(maps.Keys(a.table))
	other := club + "/rides/" + "2026-12-13-apart"
	a.words = []string{club, p.ride, other, p.roster, p.invite, code, club + "/policies/1", "bike-1", "fenwick", "mia", p.ride + "/incidents/1", p.ride + "/marks/a-mark", "-", "clubs/fenwick/rides/nix"}
	for _, id := range []string{"mia", "max", "lea", "lou", "sus", "ben", "bo", "pia-solo", "sec", "gus", "gil"} {
		member := club + "/members/" + id
		a.words = append(a.words, member, member+"/bikes/bike-1", member+"/contacts", p.ride+"/signups/"+id)
		if device := p.devices[id]; device != "" {
			a.words = append(a.words, device)
		}
	}
	forecast, err := os.ReadFile(filepath.Join("..", "..", "testdata", "forecast", "marrowdale.json"))
	must(err)
	a.files = [][]byte{nil, gpx(f), policyfile.Winter, forecast, []byte("\x00\xff"), []byte("<gpx><trk><trkseg>"), []byte("title: x\nrules: [{}]"), []byte("{"),
		[]byte("a: &a [*a, *a]"), []byte("<!DOCTYPE x [<!ENTITY y \"z\">]><gpx>&y;</gpx>")}
	return a
}

// draw draws a call: what, by whom, the request, and the bytes that are sent.
func (a *attacked) draw(d *draw) (method string, by visitor, request proto.Message, raw []byte) {
	method, by = pick(d, a.methods), pick(d, a.visitors)
	request = a.request(method)
	d.message(request.ProtoReflect(), 0)
	access := a.table[method]
	member := pick(d, []string{by.own, by.own, by.other, "mia", "nix"})
	ride := pick(d, []string{a.ride, a.ride, a.ride, "clubs/fenwick/rides/nix"})
	if path := access.GetRecord(); path != "" && !d.once(6) {
		set(request, path, a.recordFor(method, path, ride, member))
	}
	if path := access.GetRide(); path != "" && !d.once(6) {
		set(request, path, ride)
	}
	raw, err := proto.MarshalOptions{AllowPartial: true}.Marshal(request)
	if err != nil {
		a.t.Fatal(err)
	}
	if len(raw) > 0 && d.once(8) { // what no client of ours would send
		for range 1 + d.below(3) {
			raw[d.below(len(raw))] ^= byte(1 + d.below(255))
		}
	}
	return method, by, request, raw
}

// bytesCodec sends bytes as they are.
type bytesCodec struct{}

func (bytesCodec) Name() string { return "proto" }

func (bytesCodec) Marshal(v any) (mem.BufferSlice, error) {
	return mem.BufferSlice{mem.SliceBuffer(*v.(*[]byte))}, nil
}

func (bytesCodec) Unmarshal(data mem.BufferSlice, v any) error {
	*v.(*[]byte) = data.Materialize()
	return nil
}

var _ encoding.CodecV2 = bytesCodec{}

// send makes a call with the bytes of a request, and gives those of the first answer.
func (a *attacked) send(method string, by visitor, raw []byte) (answer []byte, err error) {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	if by.token != "" {
		ctx = metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+a.tokens[by.token])
	}
	stream, err := a.conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true}, method, grpc.ForceCodecV2(bytesCodec{}))
	if err != nil {
		return nil, err
	}
	if err := errors.Join(stream.SendMsg(&raw), stream.CloseSend()); err != nil {
		return nil, stream.RecvMsg(&answer)
	}
	return answer, stream.RecvMsg(&answer)
}

// neverLetIn tells whether a caller has no role by which the method could be called at all.
func (a *attacked) neverLetIn(method string, by visitor) bool {
	access := a.table[method]
	if access.GetAnyone() {
		return false
	}
	has := map[string][]pb.Role{
		"guest": {pb.Role_GUEST}, "guest of another ride": {pb.Role_GUEST}, "member": {pb.Role_MEMBER}, "other leader": {pb.Role_MEMBER, pb.Role_LEADER},
		"leader": {pb.Role_MEMBER, pb.Role_LEADER}, "host about the guest": {pb.Role_MEMBER, pb.Role_LEADER},
		"secretary": {pb.Role_MEMBER, pb.Role_LEADER, pb.Role_SECRETARY},
		"stranger":  {pb.Role_MEMBER, pb.Role_LEADER, pb.Role_SECRETARY}, // of a club that nothing here is of
	}[by.who]
	may := append(slices.Clone(access.GetAny()), access.GetOwn()...)
	return !access.GetRideLeaders() && !slices.ContainsFunc(has, func(role pb.Role) bool { return slices.Contains(may, role) })
}

// FuzzRPC calls methods as everybody with messages that are valid, nearly valid, hostile or no messages at all, over a real
// socket. Whatever comes: the server answers, with a reason where it refuses, and never that it failed itself; who may not call
// is refused; what is refused changes nothing; no club changes by another's member; the records make sense, and the audit log
// is whole.
func FuzzRPC(f *testing.F) {
	a := newAttacked(f)
	for i := range a.methods { // each method, by one or another
		f.Add([]byte{0, byte(i), 0, byte(i % len(a.visitors))})
		f.Add([]byte{0, byte(i), 0, byte(len(a.visitors) - 1)}) // and a secretary
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		a.t = t
		a.setClock(friday)
		d := newDraw(data, a.words, a.files)
		for range 2 {
			if d.once(3) {
				a.setClock(friday.Add(time.Duration(pick(d, []int{38, 41, 44, 50, 24 * 40})) * time.Hour))
			}
			a.attack(t, d)
		}
		a.sound(t)
		a.undoing.undo(t)
		if healthy, err := healthpb.NewHealthClient(a.conn).Check(context.Background(), &healthpb.HealthCheckRequest{}); err != nil || healthy.Status != healthpb.HealthCheckResponse_SERVING {
			t.Fatalf("the server is not healthy: %v, %v", healthy, err)
		}
	})
}

// attack makes one call and looks at what came of it.
func (a *attacked) attack(t *testing.T, d *draw) {
	before := a.undoing.changed(t)
	method, by, request, raw := a.draw(d)
	_, err := a.send(method, by, raw)
	code := status.Code(err)
	said := func() string { return method + " as " + by.who + ": " + told(err) + "\n" + cut(request, raw) }
	if err != nil {
		if code == codes.Internal || code == codes.Unknown || code == codes.DeadlineExceeded || code == codes.Unimplemented || !reasoned(err) {
			t.Errorf("%s\nlog: %s", said(), a.log.last(2000))
		}
		if len(told(err)) > 64<<10 {
			t.Errorf("%s...\nis %d bytes long", said()[:1000], len(told(err)))
		}
	}
	refused := code == codes.PermissionDenied || code == codes.Unauthenticated || proto.Unmarshal(raw, a.request(method)) != nil && code == codes.InvalidArgument
	if !refused && a.neverLetIn(method, by) {
		t.Errorf("let in: %s", said())
	}
	for _, key := range a.undoing.changed(t) {
		used := strings.HasPrefix(key, "fenwick/device/") || strings.HasPrefix(key, "elsewhere/device/") // the day of its last use
		if slices.Contains(before, key) || used && err != nil {
			continue
		}
		if err != nil {
			t.Errorf("refused, and %s changed: %s", key, said())
		}
		if by.token == "stranger" && strings.HasPrefix(key, "fenwick/") && !a.table[method].GetAnyone() {
			t.Errorf("a stranger changed %s: %s", key, said())
		}
	}
}

// sound holds that records make sense and audit logs are whole.
func (a *attacked) sound(t *testing.T) {
	for _, club := range []string{"fenwick", "elsewhere"} {
		if err := a.ledger.View(context.Background(), club, func(tx *ledger.Tx) error {
			if _, err := tx.VerifyAudit(nil); err != nil {
				t.Errorf("audit: %v", err)
			}
			if len(a.undoing.before) == 0 {
				return nil
			}
			return tx.Verify(func(found ledger.Finding) { t.Errorf("%s: %s %s", club, found.Key, found.What) }, func() {})
		}); err != nil {
			t.Fatal(err)
		}
	}
}

// reasoned tells whether an error has a reason of the protocol's list.
func reasoned(err error) bool {
	for _, detail := range status.Convert(err).Details() {
		if info, ok := detail.(*errdetails.ErrorInfo); ok && info.Domain == "gritward" && pb.Reason_value[info.Reason] > 0 {
			return true
		}
	}
	return false
}

func cut(request proto.Message, raw []byte) string {
	text := protoText(request)
	return text[:min(len(text), 3000)] + "\n" + strings.ToValidUTF8(string(raw[:min(len(raw), 200)]), "?")
}

func protoText(message proto.Message) string {
	text, err := protojson.MarshalOptions{AllowPartial: true}.Marshal(message)
	if err != nil {
		return err.Error()
	}
	return string(text)
}

// last is the end of the log.
func (b *safeBuffer) last(bytes int) string {
	text := b.String()
	return text[max(len(text)-bytes, 0):]
}
