package daemon

import (
	"errors"
	"strings"
	"testing"

	"gritward/internal/store/etcd"
	"gritward/internal/vitals"
)

// TestMembersFound: of several things that are wrong with the members the one that costs most is told.
func TestMembersFound(t *testing.T) {
	up, down, headless := etcd.Member{Address: "a:1", Version: "3.4"}, etcd.Member{Failed: errors.New("b:1 is gone")}, etcd.Member{Address: "c:1", Headless: true}
	for what, row := range map[string]struct {
		found etcd.Condition
		state vitals.State
		says  string
	}{
		"well":                       {etcd.Condition{Members: []etcd.Member{up, up}, Voting: 2}, vitals.OK, "2 members, etcd 3.4"},
		"one gone":                   {etcd.Condition{Members: []etcd.Member{up, up, down}, Voting: 3}, vitals.Warning, "1 of 3 members: b:1 is gone"},
		"all gone":                   {etcd.Condition{Members: []etcd.Member{down, headless}}, vitals.Failing, "c:1 knows of no member that leads"},
		"most gone":                  {etcd.Condition{Members: []etcd.Member{up, down, down}, Voting: 3}, vitals.Failing, "2 of 3 members"},
		"not all are named":          {etcd.Condition{Members: []etcd.Member{up}, Voting: 3}, vitals.Warning, "etcd_endpoints names 1"},
		"damaged":                    {etcd.Condition{Members: []etcd.Member{up}, Voting: 1, Corrupt: true}, vitals.Failing, "damaged data"},
		"damaged, and one gone":      {etcd.Condition{Members: []etcd.Member{up, up, down}, Voting: 3, Corrupt: true}, vitals.Failing, "damaged data"},
		"damaged, not all are named": {etcd.Condition{Members: []etcd.Member{up}, Voting: 3, Corrupt: true}, vitals.Failing, "damaged data"},
	} {
		if found := membersFound(row.found); len(found) != 1 || found[0].State != row.state || !strings.Contains(found[0].Found, row.says) {
			t.Errorf("%s: %+v, want %v %q", what, found, row.state, row.says)
		}
	}
}
