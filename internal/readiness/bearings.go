package readiness

import (
	"slices"
	"time"

	pb "gritward/proto/gritward/v1"
)

// bearingSections looks at bearings. Stripped and greased before winter and whenever they turn rough: common practice, no
// source.
func bearingSections(rule *pb.Rule) []section {
	need := rule.GetBearings()
	if need == nil {
		return nil
	}
	var sections []section
	for _, b := range bearings() {
		if which := need.GetWhich(); len(which) > 0 && !slices.Contains(which, b.place) {
			continue
		}
		var limits []limit
		if need.GetSmooth() {
			limits = append(limits, b.smooth())
		}
		if need.GetNoPlay() {
			limits = append(limits, b.noPlay(need.GetSmooth()))
		}
		if need.ServicedWithin != nil {
			limits = append(limits, dated{
				did: "serviced", within: need.GetServicedWithin().AsDuration(), log: bearingOrigin(b.place), work: work{does: jobBearing.of(b.place)},
				do: b.service(), declare: b.when(), get: b.servicedOn,
				set: func(f *pb.BikeFacts, on string) { b.own(f).ServicedOn = on },
			}.limit())
		}
		if need.BeforeSeason != nil {
			limits = append(limits, b.beforeSeason(need.GetBeforeSeason().AsDuration()))
		}
		sections = append(sections, section{name: b.name, limits: limits})
	}
	return sections
}

// bearing is one bearing of a bike.
type bearing struct {
	place pb.CareEntry_Place
	name  string
	field func(*pb.Bearings) **pb.Bearing
}

// bearings are the five, in the order of the protocol.
func bearings() []bearing {
	return []bearing{
		{pb.CareEntry_HEADSET, "headset", func(b *pb.Bearings) **pb.Bearing { return &b.Headset }},
		{pb.CareEntry_BOTTOM_BRACKET, "bottom bracket", func(b *pb.Bearings) **pb.Bearing { return &b.BottomBracket }},
		{pb.CareEntry_FRONT_HUB, "front hub", func(b *pb.Bearings) **pb.Bearing { return &b.FrontHub }},
		{pb.CareEntry_REAR_HUB, "rear hub", func(b *pb.Bearings) **pb.Bearing { return &b.RearHub }},
		{pb.CareEntry_PEDALS, "pedals", func(b *pb.Bearings) **pb.Bearing { return &b.Pedals }},
	}
}

// of is the bearing that was declared; nil: nothing was.
func (b bearing) of(f *pb.BikeFacts) *pb.Bearing {
	switch all := f.GetBearings(); b.place {
	case pb.CareEntry_HEADSET:
		return all.GetHeadset()
	case pb.CareEntry_BOTTOM_BRACKET:
		return all.GetBottomBracket()
	case pb.CareEntry_FRONT_HUB:
		return all.GetFrontHub()
	case pb.CareEntry_REAR_HUB:
		return all.GetRearHub()
	default:
		return all.GetPedals()
	}
}

func (b bearing) own(f *pb.BikeFacts) *pb.Bearing { return made(b.field(made(&f.Bearings))) }

func (b bearing) servicedOn(f *pb.BikeFacts) string { return b.of(f).GetServicedOn() }

func (b bearing) service() string {
	return "Strip and grease the " + b.name + "; sealed bearings are renewed instead"
}

func (b bearing) when() string { return "when the bearings of the " + b.name + " were last serviced" }

func (b bearing) smooth() limit {
	return limit{
		needed: "smooth and without play", good: "smooth", declare: "whether the bearings of the " + b.name + " are smooth",
		look: func(c *context) answer {
			feel := b.of(c.facts).GetFeel()
			return answerOf(feel != pb.Bearing_FEEL_UNSPECIFIED, feel == pb.Bearing_SMOOTH)
		},
		declared: func(c *context, w *words) {
			switch b.of(c.facts).GetFeel() {
			case pb.Bearing_SMOOTH:
				w.add("smooth")
			case pb.Bearing_ROUGH:
				w.add("rough")
			case pb.Bearing_LOOSE:
				w.add("has play")
			default:
				w.add("feel " + notDeclared)
				return
			}
			c.origin(w, bearingOrigin(b.place))
		},
		todo: func(c *context) string {
			if b.of(c.facts).GetFeel() == pb.Bearing_LOOSE {
				return "Have the play in the " + b.name + " taken out; where it does not go away a mechanic must look before the bike is ridden."
			}
			return b.service() + "."
		},
		doesNow: func(c *context) job {
			if b.of(c.facts).GetFeel() == pb.Bearing_LOOSE {
				return jobPlay.of(b.place)
			}
			return jobBearing.of(b.place)
		},
		mend: func(c *context) { b.own(c.facts).Feel = pb.Bearing_SMOOTH },
	}
}

// noPlay is smooth for a club that holds a bike only for play that is known of: of a bearing of which nothing was declared
// nothing is known, and that costs nothing here. Beside it what was declared is said already.
func (b bearing) noPlay(beside bool) limit {
	l := b.smooth()
	if beside {
		l.declared = nil
	}
	l.needed, l.good = "no play", ""
	l.look = func(c *context) answer { return answerOf(true, b.of(c.facts).GetFeel() != pb.Bearing_LOOSE) }
	return l
}

// beforeSeason asks for a service shortly before the season began, or since. Outside the season nothing is asked.
func (b bearing) beforeSeason(before time.Duration) limit {
	days := civilDay(before / day)
	return limit{
		needed: "serviced at most " + ageWords(before) + " before the season began, or since", declare: b.when(), work: work{does: jobBearing.of(b.place)},
		look: func(c *context) answer {
			if c.seasonFrom == noDay {
				return moot
			}
			done := c.day(b.servicedOn(c.facts))
			return answerOf(done != noDay, done <= c.today && c.seasonFrom-done <= days)
		},
		declared: func(c *context, w *words) {
			done := c.day(b.servicedOn(c.facts))
			if done == noDay {
				w.add("when serviced " + notDeclared)
				return
			}
			w.add("serviced on ")
			w.day(done)
			if ahead := int(c.seasonFrom - done); ahead > 0 {
				w.add(", ")
				w.days(ahead)
				w.add(" before the season")
			}
			c.origin(w, bearingOrigin(b.place))
		},
		todo: always(b.service() + ": water and salt get into old grease."),
		mend: func(c *context) { b.own(c.facts).ServicedOn = c.startDay.text() },
	}
}
