package server

import (
	"context"
	"crypto/sha256"
	"log/slog"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/civil"
	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// caller is who a call comes from. Member and device are shared: they must not be changed.
type caller struct {
	club   string
	member *pb.Member
	device *pb.Device
	// record is that of the device.
	record *pb.DeviceRecord
	// version is that of the store in which member and device were found, see ledger.Tx, and at is when.
	version uint64
	at      time.Time
	// used: it is written down that the device called on that day, which begins and ends then.
	used       bool
	from, till time.Time
	// again finds member and device anew and refuses what the gate would refuse now.
	again func(*ledger.Tx) error
}

// find finds member and device by the token. With nothing written to the store since they were found it would find the same,
// but for a guest, whose ride is over some time.
func (c *caller) find(tx *ledger.Tx, token string) (err error) {
	if version := tx.Version(); version == 0 || version != c.version || isGuest(c.member) {
		if err = c.hold(tx, token); err != nil {
			c.version = 0
			return err
		}
		c.version, c.used = version, false
	}
	c.at = time.Now()
	return nil
}

// hold finds device and member. A device whose record is the very one that was found by the token before has that token still.
func (c *caller) hold(tx *ledger.Tx, token string) (err error) {
	record := c.record
	if record != nil {
		if record, err = tx.PeekDevice(names.Part(c.device.Name, "members"), names.Last(c.device.Name)); err != nil && !fault.Is(err, pb.Reason_NOT_FOUND) {
			return err
		}
	}
	if record == nil || record != c.record {
		if record, err = tx.PeekDeviceByToken(token); err != nil {
			return err
		}
	}
	if c.member, err = holder(tx, record); err == nil {
		c.record, c.device = record, record.Device
	}
	return err
}

// called finds whether it is written down that the device called today.
func (c *caller) called(tx *ledger.Tx) error {
	if c.used && !tx.Now.Before(c.from) && tx.Now.Before(c.till) {
		return nil
	}
	_, zone, err := zoneOf(tx)
	if err != nil {
		return err
	}
	year, month, day := tx.Now.In(zone).Date()
	c.from, c.till = time.Date(year, month, day, 0, 0, 0, 0, zone), time.Date(year, month, day+1, 0, 0, 0, 0, zone)
	c.used = c.device.LastUsedOn == tx.Now.In(zone).Format(civil.DateLayout)
	return nil
}

// id is the last part of the member's name.
func (c *caller) id() string { return names.Last(c.member.Name) }

func (c *caller) has(role pb.Role) bool { return slices.Contains(c.member.Roles, role) }

// still looks at the caller again, in the transaction of a use case, before anything else of it.
func (c *caller) still(use func(*ledger.Tx) error) func(*ledger.Tx) error {
	return func(tx *ledger.Tx) error {
		if err := c.again(tx); err != nil {
			return err
		}
		return use(tx)
	}
}

type callerKey struct{}

// callerOf is who the call in ctx comes from; only methods open to anyone have none.
func callerOf(ctx context.Context) *caller { return ctx.Value(callerKey{}).(*caller) }

// gate decides who may call what, from the options of the methods in the protocol.
type gate struct {
	ledger *ledger.Ledger
	// devices and addresses measure calls; failed measures bad tokens and invites by address.
	devices, addresses, failed *measures
	// known are who was let in lately, by the sum of the token; what is kept of them is not changed.
	known    *cache[*caller]
	counters *Counters
	log      *slog.Logger
	called   func()
}

func newGate(config Config) *gate {
	l, now := config.Limits, config.Ledger.Now
	called := config.Called
	if called == nil {
		called = func() {}
	}
	return &gate{
		ledger: config.Ledger, counters: config.Counters, called: called, log: config.Log, known: newCache[*caller](mostKnown),
		devices: newMeasures(l.DeviceCallsMin, now), addresses: newMeasures(l.AddressCallsMin, now), failed: newMeasures(l.FailedSignInsMin, now),
	}
}

// unary lets a call through, with its caller in the context, or refuses it. Health and reflection are open.
func (g *gate) unary(ctx context.Context, request any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	if err := readable(request); err != nil {
		return nil, err
	}
	called, _ := methodOf(info.FullMethod)
	if called.access.GetAnyone() || open(info.FullMethod) {
		if err := smallEnough(request); err != nil {
			return nil, err
		}
		response, err := next(ctx, request)
		if fault.Is(err, pb.Reason_INVITE_NOT_GOOD) {
			g.failed.take(from(ctx))
		}
		return response, err
	}
	if err := within(called.largest, request, ""); err != nil {
		return nil, err
	}
	who, err := g.admit(ctx, called.access, request.(proto.Message))
	if err != nil {
		return nil, err
	}
	return next(context.WithValue(ctx, callerKey{}, who), request)
}

// open tells whether a method is one of health or reflection, which anyone may call. A method of the protocol never is.
func open(method string) bool {
	return strings.HasPrefix(method, "/grpc.health.v1.") || strings.HasPrefix(method, "/grpc.reflection.")
}

// bearer is the token that came with a call, and the club it is for.
func bearer(ctx context.Context) (club, token string, err error) {
	values := metadata.ValueFromIncomingContext(ctx, "authorization")
	if len(values) != 1 {
		return "", "", fault.New(pb.Reason_NOT_SIGNED_IN, "no token came with the call; accept an invite first")
	}
	token, ok := strings.CutPrefix(values[0], "Bearer ")
	club, _, dotted := strings.Cut(token, ".")
	if !ok || !dotted || !names.ValidClub(club) {
		return "", "", badBearer()
	}
	return club, token, nil
}

func badBearer() error {
	return fault.New(pb.Reason_NOT_SIGNED_IN, "the token is not good, or its device was shut out; ask a secretary for a new invite")
}

// identify finds the caller by the token. Who was let in before is found by what was known then, where the store still has it.
func (g *gate) identify(ctx context.Context) (*caller, error) {
	club, token, err := bearer(ctx)
	if err != nil {
		return nil, err
	}
	who, sum := &caller{club: club}, sha256.Sum256([]byte(token)) // of a token nothing else is kept
	then, _ := g.known.find(string(sum[:]))
	if then != nil {
		*who = *then
	}
	if err := g.ledger.View(ctx, club, func(tx *ledger.Tx) error {
		if err := who.find(tx, token); err != nil {
			return err
		}
		return who.called(tx)
	}); err != nil {
		return nil, err
	}
	if then == nil || who.version != then.version || who.from != then.from {
		g.known.put(string(sum[:]), who, true)
	}
	return who, nil
}

// mostKnown is how many callers are known by their tokens, some hundred bytes each beside the records, which are shared.
const mostKnown = 4096

// holder finds who has a device, nil: that of no token, and refuses one that is shut out, a member who is suspended, and a guest whose
// ride is over.
func holder(tx *ledger.Tx, record *pb.DeviceRecord) (*pb.Member, error) {
	if record == nil || record.Device.RevokedAt != nil {
		return nil, badBearer()
	}
	member, err := tx.PeekMember(names.Part(record.Device.Name, "members"))
	if err != nil {
		return nil, err
	}
	if member.SuspendedAt != nil {
		return nil, fault.New(pb.Reason_NOT_ALLOWED, "you are suspended; ask a secretary of the club")
	}
	return member, guestHere(tx, member)
}

// admit finds who a call comes from and holds them against the access of the method. The caller carries the same check
// along, for the transactions of the use case: the device may be shut out, the member suspended, or the role taken, while
// the call is under way.
func (g *gate) admit(ctx context.Context, access *pb.Access, request proto.Message) (*caller, error) {
	club, token, err := bearer(ctx)
	if err != nil {
		return nil, err
	}
	who, record, ride := &caller{club: club}, "", ""
	if tapped, ok := ctx.Value(tappedKey{}).(*caller); ok {
		*who = *tapped
	}
	if path := access.GetRecord(); path != "" {
		record = fieldAt(request, path)
	}
	if path := access.GetRide(); path != "" {
		ride = fieldAt(request, path)
	}
	who.again = func(tx *ledger.Tx) error {
		if err := who.find(tx, token); err != nil {
			return err
		}
		return allowed(tx, who, access, record, ride)
	}
	// Whom the tap let in a moment ago need not be found once more before the request is looked at: that is done in the
	// transaction of the use case.
	if who.member == nil || time.Since(who.at) > aMoment || !granted(who, access, record, ride) {
		if err := g.ledger.View(ctx, club, func(tx *ledger.Tx) error {
			if err := who.again(tx); err != nil {
				return err
			}
			return who.called(tx)
		}); err != nil {
			return nil, err
		}
	}
	if !who.used {
		g.use(ctx, who)
	}
	return who, nil
}

// aMoment is for how long after the tap its caller counts; a message may take long to come.
const aMoment = time.Second

// granted tells, from what is known of the caller and the request alone, that allowed finds nothing to refuse.
func granted(who *caller, access *pb.Access, records ...string) bool {
	own := false
	for _, record := range records {
		if club := names.Part(record, "clubs"); club != "" && club != who.club || isGuest(who.member) {
			return false
		}
		member := names.Part(record, "members")
		own = own || member == who.id() || member == "" && names.Part(record, "signups") == who.id()
	}
	return slices.ContainsFunc(access.GetAny(), who.has) || own && slices.ContainsFunc(access.GetOwn(), who.has)
}

// allowed holds a caller against the access of the method: its records must lie in the caller's club, and a role must
// allow every record or one of them, the record itself or the ride, must be the caller's own.
func allowed(tx *ledger.Tx, who *caller, access *pb.Access, records ...string) error {
	for _, record := range records {
		if club := names.Part(record, "clubs"); club != "" && club != who.club {
			return fault.New(pb.Reason_NOT_ALLOWED, "that is another club's; your token is for club %q", who.club)
		}
		if ride := names.Part(record, "rides"); ride != "" && !mayKnow(who, ride) {
			return fault.New(pb.Reason_NOT_ALLOWED, "you are a guest of the ride %s, and of no other", names.Last(who.member.Ride))
		}
	}
	if slices.ContainsFunc(access.GetAny(), who.has) {
		return nil
	}
	if slices.ContainsFunc(access.GetOwn(), who.has) {
		for _, record := range records {
			own, err := owns(tx, who, access, record)
			if err != nil || own {
				return err
			}
		}
	}
	if access.GetRideLeaders() {
		leads, err := leadsOn(tx, who, names.Part(records[0], "rides"))
		if err != nil || leads {
			return err
		}
	}
	whom, err := whomToAsk(tx, who, access)
	if err != nil {
		return err
	}
	return fault.New(pb.Reason_NOT_ALLOWED, "%s%s", refusal(access), whom)
}

// owns tells whether a record is the caller's own: it is, or belongs to, the caller's member record, or that of a guest whom
// the caller answers for unless the method is for the member themself, or it belongs to a ride that the caller leads.
func owns(tx *ledger.Tx, who *caller, access *pb.Access, record string) (bool, error) {
	if member := names.Part(record, "members"); member != "" {
		if member == who.id() || access.GetSelf() {
			return member == who.id(), nil
		}
		return answersFor(tx, who, member)
	}
	if names.Part(record, "signups") == who.id() {
		return true, nil
	}
	ride := names.Part(record, "rides")
	if ride == "" || !who.has(pb.Role_LEADER) || !slices.Contains(access.GetOwn(), pb.Role_LEADER) {
		return false, nil
	}
	found, err := tx.PeekRide(ride)
	return err == nil && found.Leader == who.member.Name, err
}

// leadsOn tells whether the caller leads a ride, or a group of it in its newest roster.
func leadsOn(tx *ledger.Tx, who *caller, ride string) (bool, error) {
	if ride == "" {
		return false, nil
	}
	found, err := tx.PeekRide(ride)
	if err != nil || found.Leader == who.member.Name || found.RosterNumber == 0 {
		return err == nil && found.Leader == who.member.Name, err
	}
	issue, err := tx.PeekRoster(ride, found.RosterNumber)
	return err == nil && slices.ContainsFunc(issue.GetPlacement().GetGroups(), func(group *pb.RosterGroup) bool {
		return group.Leader == who.member.Name
	}), err
}

// fieldAt reads a string field of a message by its path; "" when a message on the way is not there.
func fieldAt(message proto.Message, path string) string {
	at := message.ProtoReflect()
	parts := strings.Split(path, ".")
	for _, part := range parts[:len(parts)-1] {
		field := at.Descriptor().Fields().ByName(protoreflect.Name(part))
		if !at.Has(field) {
			return ""
		}
		at = at.Get(field).Message()
	}
	return at.Get(at.Descriptor().Fields().ByName(protoreflect.Name(parts[len(parts)-1]))).String()
}
