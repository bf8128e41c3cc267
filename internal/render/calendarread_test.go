//go:build readers

package render_test

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gritward/internal/render"
	pb "gritward/proto/gritward/v1"

	"github.com/google/go-cmp/cmp"
)

// read is what a parser makes of an entry.
type read struct {
	Method, UID, Summary, Location, Status, Start, End, Description, Trigger string
	Sequence                                                                 int
}

// The parsers: one in Python as Debian packs it (python3-icalendar), for the system's Python; one in JavaScript, by npm.
const (
	python     = "/usr/bin/python3"
	nodeParser = "ical.js@2.2.1"
)

const inPython = `
import json, sys
from icalendar import Calendar
c = Calendar.from_ical(open(sys.argv[1], 'rb').read())
e = c.walk('VEVENT')[0]
at = lambda v: v.dt.strftime('%Y%m%dT%H%M%SZ') if v is not None and v.dt.utcoffset().total_seconds() == 0 else ''
alarms = e.walk('VALARM')
print(json.dumps({'Method': str(c['METHOD']), 'UID': str(e['UID']), 'Summary': str(e['SUMMARY']), 'Location': str(e['LOCATION']),
  'Status': str(e['STATUS']), 'Start': at(e['DTSTART']), 'End': at(e.get('DTEND')), 'Description': str(e['DESCRIPTION']),
  'Sequence': int(e['SEQUENCE']), 'Trigger': at(alarms[0]['TRIGGER']) if alarms else ''}))
`

const inNode = `
const ICAL = require('ical.js').default || require('ical.js');
const c = new ICAL.Component(ICAL.parse(require('fs').readFileSync(process.argv[2], 'utf8')));
const e = c.getFirstSubcomponent('vevent'), a = e.getFirstSubcomponent('valarm');
const v = (x, n) => x.getFirstPropertyValue(n);
const at = t => t && t.zone === ICAL.Timezone.utcTimezone ? t.toICALString() : '';
console.log(JSON.stringify({Method: v(c, 'method'), UID: v(e, 'uid'), Summary: v(e, 'summary'), Location: v(e, 'location'), Status: v(e, 'status'),
  Start: at(v(e, 'dtstart')), End: at(v(e, 'dtend')), Description: v(e, 'description'), Sequence: v(e, 'sequence'), Trigger: a ? at(v(a, 'trigger')) : ''}));
`

// TestCalendarOtherParsers has two parsers of other languages read entries: both make of them what the Go one does.
func TestCalendarOtherParsers(t *testing.T) {
	folder := t.TempDir()
	do := func(name string, args ...string) []byte {
		t.Helper()
		command := exec.Command(name, args...)
		command.Env = append(os.Environ(), "NODE_PATH="+filepath.Join(folder, "node_modules"))
		var said strings.Builder
		command.Stderr = &said
		out, err := command.Output()
		if err != nil {
			t.Fatalf("%s: %v\n%s", name, err, said.String())
		}
		return out
	}
	do("npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", folder, nodeParser)
	for file, script := range map[string]string{"read.py": inPython, "read.cjs": inNode} {
		if err := os.WriteFile(filepath.Join(folder, file), []byte(script), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for name, change := range map[string]func(*render.Entry){
		"placed":     func(*render.Entry) {},
		"called off": func(e *render.Entry) { e.Ride.State, e.Ride.CallOffReason = pb.Ride_CALLED_OFF, "snow; ice, and more" },
		"withdrawn":  func(e *render.Entry) { e.Signup = nil },
		"invited": func(e *render.Entry) {
			e.Organizer, e.Attendee, e.Name = "rides@hollow-lane.example", "nan@hollow-lane.example", `D'Arcy "the Hill", Ferris`
		},
		// No backslash before an n: this parser in Python takes it for a line break where it is escaped.
		"letters": func(e *render.Entry) {
			e.Ride.Title, e.Ride.MeetingPoint = strings.Repeat("夜の湖🚲", 12), `Ξένια; Їжак, "the oak" \ `+strings.Repeat("ё", 60)
		},
	} {
		e := entryOf(t)
		change(&e)
		text := calendar(t, e, stamp)
		path := filepath.Join(folder, "entry.ics")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		cal, event := decoded(t, text)
		want := read{Method: cal.Props.Get("METHOD").Value, UID: event.Props.Get("UID").Value, Status: event.Props.Get("STATUS").Value, Start: event.Props.Get("DTSTART").Value,
			End: event.Props.Get("DTEND").Value, Summary: value(t, event, "SUMMARY"), Location: value(t, event, "LOCATION"), Description: value(t, event, "DESCRIPTION"), Sequence: 1209600}
		if len(event.Children) > 0 {
			want.Trigger = event.Children[0].Props.Get("TRIGGER").Value
		}
		if want.Location != render.Clean(e.Ride.MeetingPoint) {
			t.Errorf("%s: LOCATION %q", name, want.Location)
		}
		for program, script := range map[string]string{python: "read.py", "node": "read.cjs"} {
			var got read
			if err := json.Unmarshal(do(program, filepath.Join(folder, script), path), &got); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("%s: %s reads (-go +%s):\n%s", name, program, program, diff)
			}
		}
	}
}
