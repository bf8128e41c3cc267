package render

import (
	"fmt"
	"io"
	"strconv"

	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// Part is what Text shows of a roster.
type Part int

// The parts; the zero value shows both.
const (
	Both       Part = iota
	RosterOnly      // who rides where, the light, what changed
	BriefOnly       // the safety brief
)

// TextOptions say how text is laid out.
type TextOptions struct {
	Width  int  // columns, 40 to 200; 0: 80
	Colour bool // style with terminal escapes; without, the text holds none
	Part   Part // what Text shows
	Brief  bool // of assessments: advice in one line a rule, and not what is met
}

// Text writes r as plain text for a terminal or an e-mail. The error is the writer's.
func Text(w io.Writer, r *pb.Roster, opt TextOptions) error {
	s, t := newSheet(r), newPage(opt)
	t.header(s)
	if opt.Part != BriefOnly {
		t.changes(s)
		t.light(s.plan(), s.watch)
		for _, g := range s.GetPlacement().GetGroups() {
			t.group(s, g, opt.Part == RosterOnly)
		}
		if opt.Part == RosterOnly {
			t.mending(s) // the brief tells it as well
		}
		t.outside(s)
		t.decided(s)
		if words := phrase.Proof(s.GetPlacement()); words != "" {
			t.gap()
			t.line(words)
		}
	}
	if opt.Part != RosterOnly {
		t.spoken(s)
		t.brief(s.GetBrief())
	}
	t.foot(s)
	return t.writeTo(w)
}

func (t *page) header(s *sheet) {
	if off := s.calledOff(); off != "" {
		t.warn(off)
	}
	for _, c := range s.GetSince() {
		t.wrapped("! ", "  ", "Changed since this issue: "+c, alarm)
	}
	if s.calledOff() != "" || len(s.GetSince()) > 0 {
		t.gap()
	}
	t.line(s.club())
	t.bold(s.title())
	if at := s.watch.Stamp(s.start()); at != "" {
		t.line(at + " (" + s.watch.Zone() + ")")
	} else {
		t.line("At a time not known")
	}
	if place := s.GetRide().GetMeetingPoint(); place != "" {
		t.line("Meet at " + place)
	}
	if leader := s.GetLeaderName(); leader != "" {
		if phone := s.GetRide().GetLeaderPhone(); phone != "" {
			leader += ", telephone " + phone
		}
		t.line("Ride leader " + leader)
	}
	if s.draft() {
		t.warn(s.issue())
	} else {
		t.line(s.issue())
	}
	if policy := s.policy(); policy != "" {
		t.line("Policy: " + policy)
	}
}

func (t *page) changes(s *sheet) {
	if len(s.GetChanges()) == 0 {
		return
	}
	t.heading("Changed since the issue before")
	for _, c := range s.GetChanges() {
		t.point(c)
	}
}

// outside tells who has no place, and which groups do not run.
func (t *page) outside(s *sheet) {
	if idle := s.GetPlacement().GetIdle(); len(idle) > 0 {
		t.heading("Groups that do not run")
		for _, g := range idle {
			title, words := idleWords(g)
			t.point(title + ": " + words)
		}
	}
	if unplaced := s.GetPlacement().GetUnplaced(); len(unplaced) > 0 {
		t.heading("Without a place")
		for _, u := range unplaced {
			t.nobody(s, u)
		}
	}
}

func (t *page) nobody(s *sheet, u *pb.Unplaced) {
	name := s.unplaced(u)
	if bike := u.GetBikeTitle(); bike != "" {
		name += ", " + bike
	}
	if u.GetWaiting() {
		name += ", waits for a place"
	}
	t.point(name)
	for _, why := range u.GetWhy() {
		t.para(4, why)
	}
	t.findings(4, u.GetFindings())
}

// findings are told one below the other: what it is about, needed, declared, remedy.
func (t *page) findings(indent int, fs []*pb.Finding) {
	for _, f := range worstFirst(fs) {
		t.para(indent, fmt.Sprintf("%s (%s). Needed: %s. Declared: %s.", about(f), standingAt(f),
			phrase.FirstOf(f.GetNeeded(), "what rule "+f.GetRule()+" says"), declared(f)))
		if f.GetRemedy() != "" {
			t.para(indent+2, "To put it right: "+f.GetRemedy())
		}
		if f.GetBecause() != "" {
			t.para(indent+2, "Because: "+f.GetBecause())
		}
	}
}

// decided tells what the leader fixed and set aside, and what cannot hold together.
func (t *page) decided(s *sheet) {
	if fixed := s.GetPlacement().GetFixed(); len(fixed) > 0 {
		t.heading("Fixed by the leader")
		for _, f := range fixed {
			name, words, broken := s.fixedWords(f)
			if broken {
				t.wrapped("! ", "  ", name+" "+words, alarm)
			} else {
				t.point(name + " " + words)
			}
		}
	}
	if sets := s.GetPlacement().GetOverrides(); len(sets) > 0 {
		t.heading("Set aside by the leader")
		for _, o := range sets {
			name, words := s.overrideWords(o)
			t.wrapped("! ", "  ", name+": "+words, alarm)
		}
	}
	untold := s.untoldWords()
	if conflicts := s.conflicts(); len(conflicts) > 0 || untold != "" {
		t.heading("What cannot hold together")
		for _, c := range conflicts {
			head, constraints := conflictWords(c)
			t.point(head)
			for _, one := range constraints {
				t.para(4, one)
			}
		}
		if untold != "" {
			t.point(untold)
		}
	}
}

// spoken tells what the leader of each group says aloud.
func (t *page) spoken(s *sheet) {
	for _, g := range s.GetPlacement().GetGroups() {
		lines := s.spokenOf(g)
		if len(lines) == 0 {
			continue
		}
		t.heading(spokenTitle + ": " + groupTitle(g))
		for i, line := range lines {
			t.wrapped(strconv.Itoa(i+1)+" ", "  ", line, plain)
		}
	}
}

func (t *page) brief(b *pb.Brief) {
	for _, sec := range b.GetSections() {
		title := phrase.FirstOf(sec.GetTitle(), sec.GetId(), "Brief")
		if sec.GetUrgent() {
			title += " (!)"
		}
		t.heading(title)
		for i, line := range sec.GetLines() {
			if i == 0 && sec.GetUrgent() {
				t.wrapped("! ", "  ", line, alarm)
				continue
			}
			t.point(line)
		}
	}
}

func (t *page) foot(s *sheet) {
	t.gap()
	if d := s.GetDigest(); d != "" {
		t.faint("Digest of this issue: " + d)
	}
	t.faint("Sun times are for a flat horizon. The leader on the road decides.")
}
