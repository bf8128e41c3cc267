package care

import (
	"math"
	"slices"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/readiness"
	pb "gritward/proto/gritward/v1"
)

// wearing is a part whose wear is projected.
type wearing struct {
	name, unit        string // "front pads", "mm"
	check             pb.Check
	limits            []protoreflect.Name // fields of the check's need that limit it
	measured, renewed pb.CareEntry_Work
	end               pb.End
	new, gone         float64 // values between which any limit lies
	spread            float64 // by how much a reading may be off either way
	jump              float64 // wear between two readings beyond which one is likelier mistyped
	ofEntry           func(*pb.CareEntry) *float64
	declared          func(*pb.BikeFacts) (*float64, string) // and when it was measured
	set               func(*pb.BikeFacts, float64)           // and leave nothing else to find fault with
}

// wearings are the parts, in the order in which they are told. A chain is read to about 0.05 % (0.15 mm in 12 inches), a
// pad to about 0.2 mm; a chain that is looked after is renewed long before it has worn by 1 % since the last reading, and pads have
// hardly more than 4 mm to wear at all: common practice, no source.
func wearings() []wearing {
	return []wearing{
		{
			name: "chain", unit: "%", check: pb.Check_CHAIN, limits: []protoreflect.Name{"wear"},
			measured: pb.CareEntry_CHAIN_MEASURED, renewed: pb.CareEntry_CHAIN_RENEWED,
			new: -0.5, gone: 5, spread: 0.05, jump: 1, ofEntry: func(e *pb.CareEntry) *float64 { return e.WearPct },
			declared: func(f *pb.BikeFacts) (*float64, string) {
				if f.GetChain() == nil {
					return nil, ""
				}
				return f.Chain.WearPct, f.Chain.MeasuredOn
			},
			set: func(f *pb.BikeFacts, pct float64) {
				if f.Chain == nil {
					f.Chain = &pb.Chain{}
				}
				f.Chain.WearPct = &pct
			},
		},
		pads(pb.End_FRONT, "front pads", func(b *pb.Brakes) **pb.Brake { return &b.Front }, func(b *pb.Brakes) **pb.Brake { return &b.Rear }),
		pads(pb.End_REAR, "rear pads", func(b *pb.Brakes) **pb.Brake { return &b.Rear }, func(b *pb.Brakes) **pb.Brake { return &b.Front }),
	}
}

// pads are those of one end; other is the brake of the other end.
func pads(end pb.End, name string, own, other func(*pb.Brakes) **pb.Brake) wearing {
	return wearing{
		name: name, unit: "mm", check: pb.Check_BRAKES, limits: []protoreflect.Name{"disc_pad_mm", "rim_pad_mm"},
		measured: pb.CareEntry_PADS_MEASURED, renewed: pb.CareEntry_PADS_RENEWED, end: end,
		new: 20, gone: 0, spread: 0.2, jump: 4, ofEntry: func(e *pb.CareEntry) *float64 { return e.ThicknessMm },
		declared: func(f *pb.BikeFacts) (*float64, string) {
			if f.GetBrakes() == nil || *own(f.Brakes) == nil {
				return nil, ""
			}
			return (*own(f.Brakes)).PadMm, (*own(f.Brakes)).LookedOn
		},
		set: func(f *pb.BikeFacts, mm float64) {
			if f.Brakes == nil {
				f.Brakes = &pb.Brakes{}
			}
			if *own(f.Brakes) == nil {
				*own(f.Brakes) = &pb.Brake{}
			}
			(*own(f.Brakes)).PadMm = &mm
			*other(f.Brakes) = &pb.Brake{Kind: pb.Brake_NONE}
		},
	}
}

// isWearLimit tells whether a field of a check's need limits a part whose wear is projected.
func isWearLimit(check pb.Check, field protoreflect.Name) bool {
	return slices.ContainsFunc(wearings(), func(w wearing) bool { return w.check == check && slices.Contains(w.limits, field) })
}

// rising: the value rises with wear.
func (w wearing) rising() bool { return w.gone > w.new }

// limit is the value nearest to new at which a rule of the policy stops being met, and what asks for it. ok is false where
// none does, or not of this bike.
func (j *judging) limit(w wearing) (limit float64, by ask, ok bool) {
	facts := readiness.Effective(j.subject, j.in.At)
	if facts == nil {
		facts = &pb.BikeFacts{}
	}
	for _, rule := range j.in.Asked.rules {
		for _, a := range rule {
			if a.rule.GetCheck() != w.check {
				break
			}
			if !slices.Contains(w.limits, protoreflect.Name(a.limit)) || !j.asked(a) {
				continue
			}
			if value, found := j.breaksAt(w, a, facts); found && (!ok || math.Abs(value-w.new) < math.Abs(limit-w.new)) {
				limit, by, ok = value, a, true
			}
		}
	}
	return limit, by, ok
}

// breaksAt looks for the value at which the rule stops being met, to a millionth.
func (j *judging) breaksAt(w wearing, a ask, facts *pb.BikeFacts) (float64, bool) {
	book := j.book(ask{rule: readiness.NewRule(always(a.rule.Rule), a.rule.Line)})
	facts = proto.CloneOf(facts)
	subject := readiness.Subject{Declaration: &pb.Declaration{Facts: facts, CertifiedAt: timestamppb.New(j.in.At)}}
	met := func(value float64) bool {
		w.set(facts, value)
		return readiness.Standing(book, subject, nil, j.in.At) == pb.Standing_CLEAR
	}
	if !met(w.new) || met(w.gone) {
		return 0, false
	}
	good, bad := w.new, w.gone
	for math.Abs(good-bad) > 1e-8 {
		if middle := (good + bad) / 2; met(middle) {
			good = middle
		} else {
			bad = middle
		}
	}
	return math.Round(good*1e6) / 1e6, true
}
