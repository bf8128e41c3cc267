package readiness

import pb "gritward/proto/gritward/v1"

// contactSections looks at where the rider touches the bike. Double tape damps and keeps hands warmer, and an open bar
// end can wound: common practice, no source. ISO 4210-2 asks for plugged bar ends (from memory).
func contactSections(rule *pb.Rule) []section {
	need := rule.GetContact()
	if need == nil {
		return nil
	}
	var limits []limit
	if need.GetTapeSound() && !need.GetTapeDouble() { // two layers are sound, and said once
		limits = append(limits, tape("bar tape sound", "Wrap the bars anew: tape that slips takes the bars out of a cold hand.", false))
	}
	if need.GetTapeDouble() {
		limits = append(limits, tape("bar tape double", "Wrap the bars with two layers of tape, or pad them underneath: it damps, and keeps cold hands longer.", true))
	}
	if need.GetBarEndsPlugged() {
		limits = append(limits, truth{
			needed: "bar ends plugged", good: "bar ends plugged", bad: "bar end open", name: "bar ends",
			declare: "whether the bar ends are plugged", do: "Plug both bar ends: an open tube can wound badly in a fall.",
			get: func(f *pb.BikeFacts) *bool {
				if f.GetContact() == nil {
					return nil
				}
				return f.Contact.BarEndsPlugged
			},
			set: func(f *pb.BikeFacts, v *bool) { made(&f.Contact).BarEndsPlugged = v },
		}.limit())
	}
	if need.GetSaddleSound() {
		limits = append(limits, saddle())
	}
	if need.GetCleatsSound() {
		limits = append(limits, cleats())
	}
	return []section{{limits: limits}}
}

func tape(needed, todo string, double bool) limit {
	return limit{
		needed: needed, declare: "the state of the bar tape or grips", todo: always(todo),
		look: func(c *context) answer {
			tape := c.facts.GetContact().GetTape()
			return answerOf(tape != pb.Contact_TAPE_UNSPECIFIED, tape == pb.Contact_DOUBLE || tape == pb.Contact_SINGLE && !double)
		},
		declared: func(c *context, w *words) {
			switch c.facts.GetContact().GetTape() {
			case pb.Contact_SINGLE:
				w.add("bar tape single, sound")
			case pb.Contact_DOUBLE:
				w.add("bar tape double")
			case pb.Contact_WORN:
				w.add("bar tape worn, loose or slippery")
			default:
				w.add("bar tape " + notDeclared)
				return
			}
			c.origin(w, fromContact)
		},
		mend: func(c *context) {
			if made(&c.facts.Contact).Tape = pb.Contact_SINGLE; double {
				c.facts.Contact.Tape = pb.Contact_DOUBLE
			}
		},
	}
}

func saddle() limit {
	return limit{
		needed: "saddle sound", good: "saddle sound", declare: "the state of the saddle",
		look: func(c *context) answer {
			saddle := c.facts.GetContact().GetSaddle()
			return answerOf(saddle != pb.Contact_SADDLE_UNSPECIFIED, saddle == pb.Contact_SOUND)
		},
		declared: func(c *context, w *words) {
			switch c.facts.GetContact().GetSaddle() {
			case pb.Contact_SOUND:
				w.add("saddle sound")
			case pb.Contact_POOR:
				w.add("saddle poor")
			default:
				w.add("saddle " + notDeclared)
				return
			}
			c.origin(w, fromContact)
		},
		todo: always("Tighten the saddle's clamp, and renew a saddle that is torn; proof leather, and cover it in the rain."),
		mend: func(c *context) { made(&c.facts.Contact).Saddle = pb.Contact_SOUND },
	}
}

// cleats asks about cleats where there are any.
func cleats() limit {
	return truth{
		needed: "cleats and pedal springs sound, if there are any", good: "cleats sound", bad: "cleats or springs worn", name: "cleats",
		declare: "whether cleats and pedal springs hold and let go as they should",
		do:      "Renew worn cleats, clean and oil the pedal springs, and try that both feet come out.",
		asked: func(c *context) answer {
			switch c.facts.GetContact().GetPedals() {
			case pb.Contact_FLAT, pb.Contact_TOE_CLIPS:
				return moot
			case pb.Contact_CLEATS:
				return yes
			default:
				return unknown
			}
		},
		get: func(f *pb.BikeFacts) *bool {
			if f.GetContact() == nil {
				return nil
			}
			return f.Contact.CleatsSound
		},
		set: func(f *pb.BikeFacts, v *bool) { made(&f.Contact).CleatsSound = v },
		log: fromContact,
	}.limit()
}
