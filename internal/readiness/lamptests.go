package readiness

import (
	"time"

	pb "gritward/proto/gritward/v1"
)

// lampTest is one thing that a lamp must be like to count.
type lampTest struct {
	asks string // follows the lamps: "on the bike"
	like string // follows "that is" of a lamp to carry: "fixed to the bike"
	with string // follows a lamp to carry, in place of that: "of 400 lm or more"
	// each: where no number of lamps is asked for, each lamp must be so; else one of them.
	each, battery bool // battery: it asks how full the battery is
	look          func(*context, *pb.Light) answer
	// fault says why a lamp does not count; silent is what is not declared; declare names it.
	fault           func(*pb.Light) string
	silent, declare string
	change          string // one sentence that makes a lamp count that is there already; may be empty
	mend            func(*context, *pb.Light)
}

// lampTests are those of a rule for the lamps of one end.
func lampTests(need *pb.LightsNeed, end pb.End) []lampTest {
	var tests []lampTest
	lamp := endWord(end) + " lamp"
	if need.GetRearSteady() && end == pb.End_REAR {
		tests = append(tests, allSteady(lamp))
	}
	if need.GetOnBike() {
		tests = append(tests, onBike(lamp))
	}
	if lumens := need.FrontLumens; end == pb.End_FRONT && lumens != nil {
		tests = append(tests, bright(lamp, *lumens))
	}
	if lumens := need.RearLumens; end == pb.End_REAR && lumens != nil {
		tests = append(tests, bright(lamp, *lumens))
	}
	if need.FlashesMin != nil || need.FlashesMax != nil {
		tests = append(tests, flashRate(lamp, need.FlashesMin, need.FlashesMax))
	}
	if need.FlashingCandela != nil {
		tests = append(tests, flashCandela(lamp, need.GetFlashingCandela()))
	}
	if need.ChargedWithin != nil {
		tests = append(tests, charged(lamp, end, need.GetChargedWithin().AsDuration()))
	}
	return tests
}

// allSteady counts steady lamps only. A flashing rear light is not lawful in the dark in Germany (StVZO §67), the
// Netherlands (RVV 1990 art 35a) and France (code de la route R313-5, décret 2024-1074).
func allSteady(lamp string) lampTest {
	return lampTest{
		asks: "steady", like: "steady", each: true, silent: "steady or flashing " + notDeclared, declare: "whether the " + lamp + " is steady or flashing",
		look: func(_ *context, l *pb.Light) answer {
			return answerOf(l.GetMode() != pb.Light_MODE_UNSPECIFIED, l.GetMode() == pb.Light_STEADY)
		},
		fault:  func(*pb.Light) string { return "one flashing" },
		change: setSteady(lamp),
		mend:   func(_ *context, l *pb.Light) { l.Mode = pb.Light_STEADY },
	}
}

func setSteady(lamp string) string {
	return "Set a " + lamp + " to steady, and declare how long it lasts so."
}

// onBike counts lamps that are fixed to the bike.
func onBike(lamp string) lampTest {
	return lampTest{
		asks: "on the bike", like: "fixed to the bike", silent: "mount " + notDeclared, declare: "where the " + lamp + " sits",
		look: func(_ *context, l *pb.Light) answer {
			return answerOf(l.GetMount() != pb.Light_MOUNT_UNSPECIFIED, l.GetMount() == pb.Light_BIKE)
		},
		fault:  func(*pb.Light) string { return "one on the rider" },
		change: "Fix a " + lamp + " to the bike.",
		mend:   func(_ *context, l *pb.Light) { l.Mount = pb.Light_BIKE },
	}
}

// bright counts lamps of a flux or more.
func bright(lamp string, lumens float64) lampTest {
	of := "of " + decimal(lumens) + " lm or more"
	return lampTest{
		asks: of, with: of, silent: "lumens " + notDeclared, declare: "how many lumens the " + lamp + " gives",
		look: func(_ *context, l *pb.Light) answer {
			return answerOf(l.Lumens != nil, l.GetLumens() >= lumens)
		},
		fault: func(l *pb.Light) string { return "one of only " + decimal(l.GetLumens()) + " lm" },
		mend:  func(_ *context, l *pb.Light) { l.Lumens = &lumens },
	}
}

// charged counts battery lamps that were charged, or given new cells, lately enough.
func charged(lamp string, end pb.End, within time.Duration) lampTest {
	days := civilDay(within / day)
	words := "charged at most " + ageWords(within) + " before the start"
	return lampTest{
		asks: words, like: words, each: true, battery: true, silent: "when charged " + notDeclared, declare: "when the " + lamp + " was last charged, or its cells replaced",
		look: func(c *context, l *pb.Light) answer {
			if l.GetPower() == pb.Light_DYNAMO {
				return yes
			}
			on := c.day(l.GetChargedOn())
			return answerOf(on != noDay, on <= c.today && c.startDay-on <= days)
		},
		fault: func(l *pb.Light) string {
			return "one last charged on " + parseDay(l.GetChargedOn()).words()
		},
		change: "Charge the " + lamp + " or replace its cells, and write it down in the care log.",
		mend:   func(c *context, l *pb.Light) { l.ChargedOn = c.startDay.text() },
	}
}
