package readiness

import (
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "gritward/proto/gritward/v1"
)

// day is what the age of a declaration is counted in: 24 hours, whatever the clocks do.
const day = 24 * time.Hour

// tellDeclaration looks at the age of the declaration when the group starts. Exactly the age allowed still counts. One
// certified after the planned start counts when the ride starts late: it was certified before it was judged. One
// certified after the judging cannot be: a clock is wrong, and the rule is not met. How long a declaration counts is
// common practice, no source.
func tellDeclaration(c *context, rule Rule, w *words) verdict {
	valid := c.valid(rule.form)
	v := verdict{needed: rule.form.needed, met: rule.form.met(c)}
	if v.needed == "" {
		from := w.len()
		w.declarationNeeded(valid)
		v.needed = w.since(from)
	}
	if c.declaration == nil || !c.declaration.GetCertifiedAt().IsValid() {
		v.declared, v.notDeclared = notDeclared, true
		v.todo = do("Declare the bike and certify it.")
		return v
	}
	certified, from := c.declaration.GetCertifiedAt().AsTime(), w.len()
	w.add("certified on ")
	c.moment(w, certified)
	if certified.After(c.at) {
		w.add(", which is after now, ")
		c.moment(w, c.at)
		v.declared = w.since(from)
		v.todo = do("Check the server's clock, then certify the bike again.")
		return v
	}
	w.add(", ")
	w.age(rounded(max(c.startAt.Sub(certified), 0), valid))
	w.add(" before the start")
	v.declared = w.since(from)
	if v.met {
		return v
	}
	v.todo = do("Look the bike over and certify it again.")
	if earliest := c.startAt.Add(-valid); earliest.After(c.at) {
		var when words
		c.moment(&when, earliest)
		v.todo = do("Look the bike over and certify it again, not before " + when.b.String() + ".")
	}
	return v
}

// metDeclaration is tellDeclaration without words.
func metDeclaration(f *form) func(*context) bool {
	return func(c *context) bool {
		stamp := c.declaration.GetCertifiedAt()
		if !stamp.IsValid() {
			return false
		}
		certified := stamp.AsTime()
		return !certified.After(c.at) && c.startAt.Sub(certified) <= c.valid(f)
	}
}

// mendDeclaration certifies the bike at the start.
func mendDeclaration(c *context, _ Rule) {
	c.declaration = &pb.Declaration{CertifiedAt: timestamppb.New(c.startAt), Facts: c.declaration.GetFacts()}
}

// valid is the age up to which a declaration counts.
func (c *context) valid(f *form) time.Duration {
	if f.valid > 0 {
		return f.valid
	}
	return c.book.DeclarationValid
}

func declarationNeeded(valid time.Duration) string {
	var w words
	w.declarationNeeded(valid)
	return w.b.String()
}

func (w *words) declarationNeeded(valid time.Duration) {
	w.add("certified at most ")
	w.age(valid)
	w.add(" before the start")
}

// moment writes an instant's civil date and time in the zone of the judging: "13 December 2026, 09:00".
func (c *context) moment(w *words, at time.Time) {
	at = at.In(c.at.Location())
	w.day(dayOf(at, c.at.Location()))
	hour, min, _ := at.Clock()
	w.b.Write([]byte{',', ' ', digit(hour / 10), digit(hour % 10), ':', digit(min / 10), digit(min % 10)})
}

func digit(n int) byte { return byte('0' + n) }

// rounded drops the hours of an age of days that is more than a day away from the age allowed.
func rounded(age, valid time.Duration) time.Duration {
	if age > 2*day && (age-valid).Abs() > day {
		return age.Truncate(day)
	}
	return age
}

// ageWords writes an age in its two largest units: "28 days", "28 days 1 h", "3 h 5 min".
func ageWords(age time.Duration) string {
	var w words
	w.age(age)
	return w.b.String()
}

// age is ageWords.
func (w *words) age(age time.Duration) {
	said := 0
	for _, unit := range [...]struct {
		size time.Duration
		name string
	}{{day, " day"}, {time.Hour, " h"}, {time.Minute, " min"}, {time.Second, " s"}} {
		n := age / unit.size
		age -= n * unit.size
		if n == 0 || said == 2 {
			continue
		}
		if said++; said == 2 {
			w.add(" ")
		}
		w.whole(int(n))
		w.add(unit.name)
		if unit.size == day && n > 1 {
			w.add("s")
		}
	}
	if said == 0 {
		w.add("0 min")
	}
}
