package readiness

import (
	"fmt"
	"strings"
	"time"

	pb "gritward/proto/gritward/v1"
)

// day is what the age of a declaration is counted in: 24 hours, whatever the clocks do.
const day = 24 * time.Hour

// judgeDeclaration looks at the age of the declaration when the group starts. Exactly the age allowed still counts. One
// certified after the planned start counts when the ride starts late: it was certified before it was judged. One
// certified after the judging cannot be: a clock is wrong, and the rule is not met. How long a declaration counts is
// common practice, no source.
func judgeDeclaration(c *context, rule *pb.Rule) verdict {
	valid := c.book.DeclarationValid
	if own := rule.GetDeclaration().GetValid(); own != nil {
		valid = own.AsDuration()
	}
	v := verdict{needed: "certified at most " + ageWords(valid) + " before the start"}
	if c.declaration == nil || !c.declaration.GetCertifiedAt().IsValid() {
		v.declared, v.notDeclared = notDeclared, true
		v.todo = []string{"Declare the bike and certify it."}
		return v
	}
	certified := c.declaration.GetCertifiedAt().AsTime()
	if certified.After(c.at) {
		v.declared = "certified on " + c.date(certified) + ", which is after now, " + c.date(c.at)
		v.todo = []string{"Check the server's clock, then certify the bike again."}
		return v
	}
	age := max(c.startAt.Sub(certified), 0)
	v.declared = "certified on " + c.date(certified) + ", " + ageWords(rounded(age, valid)) + " before the start"
	if v.met = age <= valid; v.met {
		return v
	}
	v.todo = []string{"Look the bike over and certify it again."}
	if earliest := c.startAt.Add(-valid); earliest.After(c.at) {
		v.todo = []string{"Look the bike over and certify it again, not before " + c.date(earliest) + "."}
	}
	return v
}

// date writes an instant's civil date and time in the zone of the judging.
func (c *context) date(at time.Time) string {
	return at.In(c.at.Location()).Format("2 January 2006, 15:04")
}

// rounded drops the hours of an age of days that is more than a day away from the age allowed.
func rounded(age, valid time.Duration) time.Duration {
	if age > 2*day && (age-valid).Abs() > day {
		return age.Truncate(day)
	}
	return age
}

// ageWords writes an age in its two largest units: "28 days", "28 days 1 h", "3 h 5 min".
func ageWords(age time.Duration) string {
	var parts []string
	for _, unit := range []struct {
		size time.Duration
		name string
	}{{day, " day"}, {time.Hour, " h"}, {time.Minute, " min"}, {time.Second, " s"}} {
		n := age / unit.size
		age -= n * unit.size
		if n == 0 || len(parts) == 2 {
			continue
		}
		text := fmt.Sprintf("%d%s", n, unit.name)
		if unit.size == day && n > 1 {
			text += "s"
		}
		parts = append(parts, text)
	}
	if len(parts) == 0 {
		return "0 min"
	}
	return strings.Join(parts, " ")
}
