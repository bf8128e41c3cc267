package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"gritward/internal/demo"
	"gritward/internal/names"
)

// sent sends JSON as the script of the start line does, and gives what came back.
func (b *browser) sent(path, body string) map[string]any {
	b.w.t.Helper()
	b.post(path, "application/json", strings.NewReader(body))
	var answer map[string]any
	if b.status != http.StatusUnauthorized {
		if err := json.Unmarshal([]byte(b.page), &answer); err != nil {
			b.w.t.Errorf("%s answered %d, which is no JSON: %s", path, b.status, b.page)
		}
	}
	return answer
}

// TestKeptMarks sends what a phone kept: in its own time, twice, in another's name, unreadable, too large, refused, and when
// nobody is signed in any more.
func TestKeptMarks(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	start := w.story.Ride.StartAt.AsTime()
	w.clock.TurnTo(start.Add(5 * time.Hour))
	b, at := w.signIn(demo.Leader), "/"+w.ride()+"/start"
	hetty, noor := names.Last(w.member(demo.Member)), names.Last(w.member("Noor Vasanthi"))
	slow := w.clock.Now().Add(-72 * time.Minute) // what the phone's clock shows
	body := func(by, marks string) string {
		return fmt.Sprintf(`{"by":%q,"now":%d,"early":false,"marks":[%s]}`, by, slow.UnixMilli(), marks)
	}
	one := func(id, member, what string, ago time.Duration) string {
		return fmt.Sprintf(`{"id":%q,"m":%q,"w":%q,"at":%d,"n":"","g":"","s":""}`, id, member, what, slow.Add(-ago).UnixMilli())
	}
	both := body(w.member(demo.Leader), one("m1", hetty, "SET_OFF", 4*time.Hour)+","+one("m2", noor, "SET_OFF", 4*time.Hour))
	for range 2 {
		answer := b.sent(at+"/marks", both)
		marks, _ := answer["marks"].([]any)
		if b.is(http.StatusOK); len(marks) != 2 {
			t.Fatal(b.page)
		}
		first := marks[0].(map[string]any)
		if off := int64(first["t"].(float64)) - w.clock.Now().Add(-4*time.Hour).UnixMicro(); off < -5e6 || off > 5e6 || first["no"] != 1.0 {
			t.Errorf("marked at %v, %d µs from when it was, by a clock 72 min slow", first, off)
		}
	}
	if answer := b.sent(at+"/marks", body(w.member(demo.Secretary), one("m3", hetty, "HOME", 0))); b.status != http.StatusForbidden || answer["other"] != true {
		t.Errorf("another's mark: %d %v", b.status, answer)
	}
	for name, c := range map[string]struct {
		body    string
		status  int
		refused bool
	}{
		"home too soon":      {body(w.member(demo.Leader), one("m4", hetty, "HOME", 4*time.Hour)), http.StatusUnprocessableEntity, true},
		"another's id":       {body(w.member(demo.Leader), one("m1", noor, "HOME", 0)), http.StatusConflict, true},
		"no such mark":       {body(w.member(demo.Leader), one("m5", hetty, "FLEW", 0)), http.StatusUnprocessableEntity, true},
		"no such member":     {body(w.member(demo.Leader), one("m5", "nobody", "HOME", 0)), http.StatusUnprocessableEntity, true},
		"none":               {body(w.member(demo.Leader), ""), http.StatusUnprocessableEntity, true},
		"an id with a slash": {body(w.member(demo.Leader), one("a/../b", hetty, "HOME", 0)), http.StatusUnprocessableEntity, true},
		"no JSON":            {"{", http.StatusUnprocessableEntity, true},
		"two values":         {both + both, http.StatusUnprocessableEntity, true},
		"unknown":            {`{"by":"x","evil":1}`, http.StatusUnprocessableEntity, true},
		"too large":          {`{"by":"` + strings.Repeat("x", 300<<10) + `"}`, http.StatusRequestEntityTooLarge, false},
	} {
		if answer := b.sent(at+"/marks", c.body); b.status != c.status || answer["refused"] != c.refused || answer["words"] == "" {
			t.Errorf("%s: %d %v", name, b.status, answer)
		}
	}
	look := fmt.Sprintf(`{"by":%q,"id":"l1","at":%d,"now":%d,"form":{"m":%q,"do":"found","end":"REAR","found":"LIGHT_DEAD"}}`, w.member(demo.Leader),
		slow.Add(-5*time.Hour-10*time.Minute).UnixMilli(), slow.UnixMilli(), names.Last(w.member("Jun Okare"))) // looked over before the start
	for range 2 {
		if answer := b.sent(at+"/looks", look); b.status != http.StatusOK || !strings.Contains(fmt.Sprint(answer["groups"]), "rides here") {
			t.Errorf("%d %v", b.status, answer)
		}
	}
	if answer := b.sent(at+"/looks", strings.Replace(look, `"l1"`, `"l2"`, 1)[:60]); b.status != http.StatusUnprocessableEntity || answer["refused"] != true {
		t.Errorf("%d %v", b.status, answer)
	}
	b.open(at + "/state?since=1").is(http.StatusOK)
	var state struct {
		Marks  []struct{ ID string }
		Newest int
	}
	if err := json.Unmarshal([]byte(b.page), &state); err != nil || len(state.Marks) != state.Newest-1 || state.Marks[0].ID != "m2" {
		t.Errorf("%v %s", err, b.page)
	}
	b.send("/leave", nil).is(http.StatusOK)
	b.sent(at+"/marks", both)
	b.is(http.StatusUnauthorized)
	b.open(at + "/state").is(http.StatusUnauthorized)
	member := w.signIn(demo.Member)
	if member.open(at + "/state"); member.status != http.StatusForbidden || strings.Contains(member.page, "Noor") {
		t.Errorf("a member is told %d %s", member.status, member.page)
	}
}
