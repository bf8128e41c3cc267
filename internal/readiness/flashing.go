package readiness

import pb "gritward/proto/gritward/v1"

// ifFlashing makes a test that only flashing lamps can fail.
func ifFlashing(look func(*pb.Light) answer) func(*context, *pb.Light) answer {
	return func(_ *context, l *pb.Light) answer {
		switch l.GetMode() {
		case pb.Light_STEADY:
			return yes
		case pb.Light_FLASHING:
			return look(l)
		default:
			if look(l) == yes {
				return yes
			}
			return unknown
		}
	}
}

// flashRate counts flashing lamps of a rate: in Great Britain 60 to 240 equal flashes a minute (guidance of the
// Department for Transport on SI 2005/2559, quoted).
func flashRate(lamp string, least, most *float64) lampTest {
	rate := ""
	switch {
	case most == nil:
		rate = decimal(*least) + " flashes a minute or more"
	case least == nil:
		rate = decimal(*most) + " flashes a minute or fewer"
	default:
		rate = decimal(*least) + " to " + decimal(*most) + " flashes a minute"
	}
	rate += " if it flashes"
	return lampTest{
		asks: "with " + rate, like: "steady", silent: "flashes a minute " + notDeclared,
		declare: "whether the " + lamp + " is steady, or how many times a minute it flashes",
		look: ifFlashing(func(l *pb.Light) answer {
			f := l.GetFlashesPerMin()
			return answerOf(l.FlashesPerMin != nil, (least == nil || f >= *least) && (most == nil || f <= *most))
		}),
		fault:  func(l *pb.Light) string { return "one flashing " + decimal(l.GetFlashesPerMin()) + " times a minute" },
		change: "Set a " + lamp + " to steady or to another rate, and declare how long it lasts so.",
		mend:   func(_ *context, l *pb.Light) { l.Mode = pb.Light_STEADY },
	}
}

// flashCandela counts flashing lamps of an intensity: in Great Britain at least 4 cd to front or rear where it is the
// only one (Road Vehicles Lighting Regulations 1989, reg 13(2)(g) and (h)).
func flashCandela(lamp string, candela float64) lampTest {
	words := "of " + decimal(candela) + " cd or more if it flashes"
	return lampTest{
		asks: words, like: "steady", silent: "candela " + notDeclared,
		declare: "whether the " + lamp + " is steady, or how many candela it gives flashing",
		look: ifFlashing(func(l *pb.Light) answer {
			return answerOf(l.Candela != nil, l.GetCandela() >= candela)
		}),
		fault:  func(l *pb.Light) string { return "one flashing with only " + decimal(l.GetCandela()) + " cd" },
		change: setSteady(lamp),
		mend:   func(_ *context, l *pb.Light) { l.Mode = pb.Light_STEADY },
	}
}
