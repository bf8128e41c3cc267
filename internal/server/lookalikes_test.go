package server_test

import (
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "gritward/proto/gritward/v1"
)

func (w *world) rename(as, id, name string) error {
	_, err := w.clubs.UpdateMember(w.as(as), &pb.UpdateMemberRequest{
		Member: &pb.Member{Name: club + "/members/" + id, DisplayName: name}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"display_name"}}})
	return err
}

// TestBadNames refuses names that are not what they look like, whoever gives them, and leaves those of all scripts.
func TestBadNames(t *testing.T) {
	w := newWorld(t)
	w.member("Mia", nil)
	for name, bad := range map[string]string{
		"a bell": "Mi\aa", "a delete": "Mi\x7fa", "a C1 control": "Mi\u0085a", "an override": "Mi\u202ea", "an isolate": "Mi\u2066a",
		"a right-to-left mark": "Mi\u200fa", "a left-to-right mark": "Mi\u200ea", "an Arabic letter mark": "Mi\u061ca",
		"a zero width space": "Mi\u200ba", "a word joiner": "Mi\u2060a", "a byte order mark": "\ufeffMia",
		"tags": "Mia\U000E0049\U000E0067", "a language tag": "Mia\U000E0001", "annotation": "Mi\ufff9a",
		"a joiner": "Mi\u200da", "a non-joiner": "Mi\u200ca", "a joiner at the end": "Mia\u200d", "a joiner at the beginning": "\u200dMia",
		"60 joiners": strings.Repeat("\u200d", 60), "60 tags": strings.Repeat("\U000E0041", 60), "60 marks": "M" + strings.Repeat("\u0301", 59),
		"five marks": "Mi\u0301\u0302\u0303\u0304\u0306a", "60 fillers": strings.Repeat("\u3164", 60), "60 variation selectors": strings.Repeat("\ufe0f", 60),
		"60 gaps": strings.Repeat("\u00a0", 60), "dots": "...", "two lines": "Mia\nVard", "a tab": "Mia\tVard", "not UTF-8": "Mi\xffa",
	} {
		if err := w.rename("sec", "mia", bad); err == nil {
			t.Errorf("%s: is taken for a member", name)
		}
		if _, err := w.clubs.CreateInvite(w.as("sec"), &pb.CreateInviteRequest{Parent: club, Invite: &pb.Invite{DisplayName: bad}}); err == nil {
			t.Errorf("%s: is taken for an invite", name)
		}
	}
	for _, good := range []string{"Zoë Marl", "Nguyễn Thị Minh", "O’Neill-Ward", "علی\u200cرضا", "क्\u200dषमा", "山田 太郎", "Ὀδυσσεύς", "M3", "M" + strings.Repeat("i", 59)} {
		if err := w.rename("sec", "mia", good); err != nil {
			t.Errorf("%q: %s", good, told(err))
		}
	}
}

// TestLookalikes: whoever invites is told of a name that can be taken for a member's or an invited person's; members cannot
// take such a name, a secretary can give it.
func TestLookalikes(t *testing.T) {
	w := newWorld(t)
	w.member("Imke Vard", nil)
	w.member("Mia", nil)
	w.invite("sec", &pb.Invite{DisplayName: "Otto Holm"})
	for name, want := range map[string]string{
		"Imke Vard":  "There is a member called Imke Vard already, and this invite makes another. ",
		"Іmkе Vаrd":  "The name looks like that of Imke Vard, a member (imke-vard): make sure who it is for, and withdraw the invite if it is not for somebody of that name.",
		"lmke  Vard": "The name looks like that of Imke Vard, a member",
		"0tto Ho1m":  "An invite for Otto Holm, which looks like that name, was made on 11 December 2026, 19:00 already, by sec, and is still open; ",
		"Otto Holms": "",
	} {
		if got := w.invite("sec", &pb.Invite{DisplayName: name}).Note; !strings.HasPrefix(got, want) || want == "" && got != "" {
			t.Errorf("%q: %q", name, got)
		}
	}
	const want = "InvalidArgument | FIELD_INVALID | member.display_name: can be taken for the name of another member, Imke Vard; ask a secretary, who can set it"
	for _, name := range []string{"Imke Vard", "IMKE VARD", "lmkе Vаrd", "Ímke Vard"} {
		if got := told(w.rename("mia", "mia", name)); !strings.HasPrefix(got, want) {
			t.Errorf("%q: %s", name, got)
		}
	}
	if err := w.rename("imke-vard", "imke-vard", "Ímke Vard"); err != nil {
		t.Errorf("a name like one's own: %s", told(err))
	}
	if err := w.rename("sec", "mia", "lmke Vard"); err != nil {
		t.Errorf("by the secretary: %s", told(err))
	}
}
