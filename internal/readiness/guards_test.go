package readiness_test

import (
	"testing"

	pb "gritward/proto/gritward/v1"
)

// TestGuards: what counts follows the practice of clubs; no published standard says it.
func TestGuards(t *testing.T) {
	full := &pb.Guard{Kind: pb.Guard_FIXED, Reach: pb.Guard_BELOW_HUB, Flap: ptr(true), Secure: ptr(true)}
	clip := &pb.Guard{Kind: pb.Guard_CLIP_ON, Reach: pb.Guard_BELOW_HUB, Flap: ptr(true), Secure: ptr(true)}
	bare := &pb.Guard{Kind: pb.Guard_NONE}
	kindOnly := &pb.Guard{Kind: pb.Guard_FIXED}
	for name, c := range map[string]struct {
		need             *pb.GuardsNeed
		front, rear      *pb.Guard
		met, silent      bool
		declared, remedy string
	}{
		"full":                {&pb.GuardsNeed{Front: pb.GuardsNeed_FULL, Rear: pb.GuardsNeed_FULL}, full, full, true, false, "front: full guard; rear: full guard", ""},
		"clip-on is not full": {&pb.GuardsNeed{Rear: pb.GuardsNeed_FULL, RearFlap: true}, nil, clip, false, false, "rear: clip-on guard, flap", "Fit a full rear guard with a flap."},
		"clip-on is any":      {&pb.GuardsNeed{Rear: pb.GuardsNeed_ANY}, nil, clip, true, false, "rear: clip-on guard", ""},
		"none is not any":     {&pb.GuardsNeed{Rear: pb.GuardsNeed_ANY}, nil, bare, false, false, "rear: no guard", "Fit a rear guard."},
		"front only asked":    {&pb.GuardsNeed{Front: pb.GuardsNeed_ANY}, clip, nil, true, false, "front: clip-on guard", ""},
		"kind not declared":   {&pb.GuardsNeed{Rear: pb.GuardsNeed_FULL}, full, nil, false, true, "not declared", "Declare how the rear guard is fixed."},
		"no flap":             {&pb.GuardsNeed{RearFlap: true}, nil, &pb.Guard{Kind: pb.Guard_FIXED, Flap: ptr(false)}, false, false, "rear: no flap", "Fit a flap to the rear guard."},
		"flap not declared":   {&pb.GuardsNeed{Rear: pb.GuardsNeed_FULL, RearFlap: true}, nil, kindOnly, false, true, "rear: full guard, flap not declared", "Declare whether the rear guard has a flap."},
		"front flap":          {&pb.GuardsNeed{FrontFlap: true}, full, nil, true, false, "front: flap", ""},
		"level with the hub":  {&pb.GuardsNeed{RearToHub: true}, nil, &pb.Guard{Kind: pb.Guard_FIXED, Reach: pb.Guard_HUB}, true, false, "rear: reaches the hub", ""},
		"below the hub":       {&pb.GuardsNeed{RearToHub: true}, nil, full, true, false, "rear: reaches below the hub", ""},
		"above the hub": {&pb.GuardsNeed{RearToHub: true}, nil, &pb.Guard{Kind: pb.Guard_FIXED, Reach: pb.Guard_ABOVE_HUB}, false, false, "rear: ends above the hub",
			"Lengthen the rear guard or its flap until it reaches at least as low as the hub."},
		"reach not declared": {&pb.GuardsNeed{RearToHub: true}, nil, kindOnly, false, true, "not declared", "Declare how far down the rear guard reaches."},
		"bare, all asked": {&pb.GuardsNeed{Rear: pb.GuardsNeed_FULL, RearFlap: true, RearToHub: true}, nil, bare, false, false, "rear: no guard",
			"Fit a full rear guard with a flap, reaching at least as low as the hub."},
		"secure":              {&pb.GuardsNeed{Secure: true}, full, clip, true, false, "front: secure; rear: secure", ""},
		"nothing to be loose": {&pb.GuardsNeed{Secure: true}, bare, bare, true, false, "front: no guard; rear: no guard", ""},
		"loose": {&pb.GuardsNeed{Secure: true}, &pb.Guard{Kind: pb.Guard_FIXED, Secure: ptr(false)}, bare, false, false, "front: not secure; rear: no guard",
			"Make the front guard secure: tighten its stays, bolts and bridge."},
		"secure not declared": {&pb.GuardsNeed{Secure: true}, kindOnly, bare, false, true, "front: whether secure not declared; rear: no guard", "Declare whether the front guard is secure."},
		"two things at one end": {&pb.GuardsNeed{Rear: pb.GuardsNeed_FULL, RearFlap: true, RearToHub: true}, nil,
			&pb.Guard{Kind: pb.Guard_FIXED, Flap: ptr(false)}, false, false, "rear: full guard, no flap, reach not declared",
			"Fit a flap to the rear guard. Declare how far down the rear guard reaches."},
		"nothing declared": {&pb.GuardsNeed{Front: pb.GuardsNeed_FULL, Rear: pb.GuardsNeed_FULL, RearFlap: true}, nil, nil, false, true, "not declared",
			"Declare how the front guard is fixed, how the rear guard is fixed and whether the rear guard has a flap."},
	} {
		t.Run(name, func(t *testing.T) {
			facts := &pb.BikeFacts{Guards: &pb.Guards{Front: c.front, Rear: c.rear}}
			if c.front == nil && c.rear == nil {
				facts.Guards = nil
			}
			f := finding(t, book(guardsRule(c.need)), subject(facts), group(0, nil))
			want := pb.Standing_BACK
			if c.met {
				want = pb.Standing_CLEAR
			}
			if f.GetStanding() != want || f.GetNotDeclared() != c.silent {
				t.Errorf("standing %v, want %v; not declared %v, want %v", f.GetStanding(), want, f.GetNotDeclared(), c.silent)
			}
			if f.GetDeclared() != c.declared || f.GetRemedy() != c.remedy {
				t.Errorf("declared %q\nwant     %q\nremedy %q\nwant   %q", f.GetDeclared(), c.declared, f.GetRemedy(), c.remedy)
			}
		})
	}
}

func TestGuardsNeeded(t *testing.T) {
	need := &pb.GuardsNeed{Front: pb.GuardsNeed_ANY, FrontFlap: true, Rear: pb.GuardsNeed_FULL, RearFlap: true, RearToHub: true, Secure: true}
	f := finding(t, book(guardsRule(need)), subject(nil), group(0, nil))
	if want := "front: any guard, flap, secure if fitted; rear: full guard, flap, reaching the hub, secure if fitted"; f.GetNeeded() != want {
		t.Errorf("needed %q\nwant   %q", f.GetNeeded(), want)
	}
	if f.GetBecause() != "Spray." || f.GetPolicyLine() != 10 || f.GetRule() != "guards" {
		t.Errorf("%v", f)
	}
}
