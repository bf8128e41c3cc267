package web_test

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"strings"
	"testing"

	"gritward/internal/demo"
	pb "gritward/proto/gritward/v1"
)

// winter is the shipped policy file.
func winter(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../../policy/winter.yaml")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// editing sends the editor's form.
func (b *browser) editing(club string, form url.Values) *browser {
	b.w.t.Helper()
	if form.Get("newest") == "" {
		form.Set("newest", "1")
	}
	return b.send("/"+club+"/policies/edit", form)
}

// sendFile sends a form with a file.
func (b *browser) sendFile(path string, form url.Values, field, name string, content []byte) *browser {
	b.w.t.Helper()
	var body bytes.Buffer
	parts := multipart.NewWriter(&body)
	for key := range form {
		if err := parts.WriteField(key, form.Get(key)); err != nil {
			b.w.t.Fatal(err)
		}
	}
	part, err := parts.CreateFormFile(field, name)
	if err != nil {
		b.w.t.Fatal(err)
	}
	if _, err := part.Write(content); err != nil {
		b.w.t.Fatal(err)
	}
	if err := parts.Close(); err != nil {
		b.w.t.Fatal(err)
	}
	return b.post(path, parts.FormDataContentType(), &body)
}

func TestPolicyTold(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	for _, name := range []string{demo.Secretary, demo.Leader, demo.Member} {
		b := w.signIn(name)
		b.open("/"+w.club()+"/policies").is(http.StatusOK).says("The policy in force", "The season is from 1 Oct to 31 Mar",
			"the club asks of the lights: 1 front lamp", "it is held: it does not start until that is put right", "A white light at the front is the law",
			"need: {front: 1}", "otherwise: hold", "History", "Imke Vard adopted it", "Road Vehicles Lighting Regulations 1989, reg 24")
		if got := strings.Contains(b.text(), "Edit it"); got != (name == demo.Secretary) {
			t.Errorf("%s is offered to edit it: %v", name, got)
		}
		if len(b.page) > 80<<10 {
			t.Errorf("the page has %d bytes", len(b.page))
		}
		if got := b.open("/" + w.club() + "/policies/1/file").page; got != winter(t) {
			t.Error("the file is not as it was adopted")
		}
		b.open("/" + w.club() + "/policies/1").is(http.StatusOK).says("Policy 1")
		b.open("/" + w.club() + "/policies/9").is(http.StatusNotFound)
		b.open("/" + w.club() + "/policies/%3Cscript%3E").is(http.StatusUnprocessableEntity)
	}
	for _, name := range []string{demo.Leader, demo.Member} {
		b := w.signIn(name)
		b.open("/" + w.club() + "/policies/edit").is(http.StatusForbidden).says("Only a secretary")
		b.editing(w.club(), url.Values{"policy": {winter(t)}, "do": {"adopt"}}).is(http.StatusForbidden)
		b.open("/" + w.club() + "/policies/1/restore").is(http.StatusForbidden)
		b.send("/"+w.club()+"/policies/1/restore", url.Values{}).is(http.StatusForbidden)
	}
	b := w.signIn(demo.Secretary)
	w.clock.TurnTo(w.clock.Now().AddDate(-1, 0, 0)) // before any was adopted
	b.open("/"+w.club()+"/policies").is(http.StatusOK).says("No policy is in force yet", "Begin with one")
	// A first policy is not written from nothing: the one that comes with the program stands there, checked.
	b.open("/"+w.club()+"/policies/edit").is(http.StatusOK).says("Edit the policy", "this one comes with the program, to begin with", "Nothing is wrong with it", "id: rear-light")
	if b.hidden("file") != "winter.yaml" {
		t.Errorf("the file is called %q", b.hidden("file"))
	}
}

func TestPolicyEdited(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b, edit := w.signIn(demo.Secretary), "/"+w.club()+"/policies/edit"
	b.open(edit).is(http.StatusOK).says("Edit the policy", "See whom it affects")
	if !strings.Contains(b.page, `<span id="line-441">`) || b.hidden("newest") != "1" {
		t.Error("the lines are not numbered, or it is not said which policy was seen")
	}
	// A mistake stands at its line, with the nearest word, and the text stays.
	wrong := strings.Replace(winter(t), "check: guards\n", "check: gards\n", 1)
	crlf := strings.ReplaceAll(wrong, "\n", "\r\n")
	b.editing(w.club(), url.Values{"policy": {crlf}, "do": {"preview"}}).is(http.StatusUnprocessableEntity).
		says("It cannot be adopted yet", "Line 193, column 12", "gards", "Did you mean guards?", "▸ check: gards")
	if !strings.Contains(b.page, "check: gards") || !strings.Contains(b.page, `<span id="line-193" class="wrong">`) || !strings.Contains(b.page, `href="#line-193"`) {
		t.Error("the line is not marked, or what was typed is lost")
	}
	b.send("/"+w.club()+"/policies/check", url.Values{"policy": {wrong}}).is(http.StatusOK).says("Line 193, column 12")
	if strings.Contains(b.page, "<html") {
		t.Error("a part is a whole page")
	}
	// A doubt does not stand in the way.
	b.editing(w.club(), url.Values{"policy": {strings.Replace(winter(t), "disc_pad: 0.5mm", "disc_pad: 0mm", 1)}, "do": {"check"}}).is(http.StatusOK).
		says("It can be adopted. Look at this first", "doubtful")

	// Whom it affects comes before it is adopted, however it is asked for.
	strict := strings.Replace(winter(t), "    because: Where the disc", "    because: <b>Resin</b> pads. Where the disc", 1)
	strict = strings.Replace(strict, "otherwise: back", "otherwise: hold", 1)
	asked := url.Values{"policy": {strict}, "do": {"adopt"}, "file": {"strict.yaml"}, "once": {"adopt-once"}, "note": {"guards or nothing"}}
	b.editing(w.club(), asked).is(http.StatusOK).says("Whom it affects", "would stand otherwise", "guards", "by day", "Desmond Arkle, racing bike", "back", "held", "Nothing is adopted yet")
	asked.Set("seen", b.hidden("seen"))
	if b.open("/"+w.club()+"/policies/2").status != http.StatusNotFound {
		t.Fatal("it was adopted without having been looked at")
	}
	later := url.Values{"policy": {strict}, "do": {"adopt"}, "seen": {asked.Get("seen")}, "effective_from": {"2027-01-01"}}
	b.editing(w.club(), later).is(http.StatusOK).says("Nothing is adopted yet")

	// Two secretaries: the second is told, and loses nothing.
	other := w.signIn(demo.Secretary)
	b.editing(w.club(), asked).is(http.StatusOK).says("The policy is adopted", "guards or nothing", "Policy 2")
	if strings.Contains(b.page, "<b>Resin") || !strings.Contains(b.page, "&lt;b&gt;Resin") {
		t.Error("what the file says is not shown as it is")
	}
	b.editing(w.club(), asked).is(http.StatusOK) // sent twice it is adopted once
	b.open("/" + w.club() + "/policies/3").is(http.StatusNotFound)
	theirs := url.Values{"policy": {winter(t) + "# mine\n"}, "do": {"preview"}}
	other.editing(w.club(), theirs).is(http.StatusOK).says("Another policy was adopted since you began", "mine is to follow it")
	theirs.Set("seen", other.hidden("seen"))
	theirs.Set("do", "adopt")
	other.editing(w.club(), theirs).is(http.StatusConflict).says("Policy 2 was adopted meanwhile")
	if !strings.Contains(other.page, "# mine") {
		t.Error("what was typed is lost")
	}
	theirs.Set("newest", "2")
	other.editing(w.club(), theirs).is(http.StatusOK).says("The policy is adopted")

	b.open("/"+w.club()+"/policies/compare?earlier=1&later=2").is(http.StatusOK).says("rule guards", "back", "hold", "changed")
	b.open("/" + w.club() + "/policies/compare?earlier=1&later=%27").is(http.StatusUnprocessableEntity)
	b.open("/" + w.club() + "/policies/1/restore").is(http.StatusOK).says("Restore policy 1?")
	restore := url.Values{"once": {"restore-once"}, "newest": {"2"}, "note": {"as it was"}}
	b.send("/"+w.club()+"/policies/1/restore", restore).is(http.StatusConflict).says("Policy 3 was adopted meanwhile")
	restore.Set("newest", "3")
	b.send("/"+w.club()+"/policies/1/restore", restore).is(http.StatusOK).says("policy 1 again: as it was")
}

// TestPolicyHostile sends what no policy is.
func TestPolicyHostile(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	b, edit := w.signIn(demo.Secretary), "/"+w.club()+"/policies/edit"
	for name, text := range map[string]string{
		"empty": "", "no text": "\x00\xff", "script": "title: <script>alert(1)</script>\nrules: [", "aliases": "a: &a [x]\nb: [*a, *a]", "rtl": "titel: \u202eevil",
		"deep": strings.Repeat("[", 10000), "closing": "</textarea><script>alert(1)</script>", "long line": strings.Repeat("x", 150<<10),
	} {
		for _, do := range []string{"check", "preview", "adopt", "", "open"} {
			b.editing(w.club(), url.Values{"policy": {text}, "do": {do}}).is(http.StatusUnprocessableEntity)
			if strings.Contains(b.page, "<script>alert") {
				t.Errorf("%s is not shown as it is", name)
			}
		}
	}
	for name, one := range map[string]struct {
		content []byte
		want    string
		status  int
	}{
		"over 1 MiB":   {bytes.Repeat([]byte("#"), 1<<20+1), "at most 1 MiB", http.StatusRequestEntityTooLarge},
		"long":         {bytes.Repeat([]byte("# x\n"), 60<<10), "too long to be edited", http.StatusUnprocessableEntity},
		"not UTF-8":    {[]byte("title: \xe9t\xe9"), "no text in UTF-8", http.StatusUnprocessableEntity},
		"with nothing": {[]byte("title: \x00"), "no text", http.StatusUnprocessableEntity},
	} {
		b.sendFile(edit, url.Values{"policy": {"# typed before"}, "do": {"open"}, "newest": {"1"}}, "upload", "x.yaml", one.content).is(one.status).says(one.want)
		if !strings.Contains(b.page, "# typed before") {
			t.Errorf("%s: what was typed before is lost", name)
		}
	}
	b.sendFile(edit, url.Values{"policy": {"# typed before"}, "do": {"open"}, "newest": {"1"}}, "upload", `C:\x\<b>.yaml`, []byte(winter(t))).is(http.StatusOK).says("Nothing is wrong with it")

	// A device that is shut out meanwhile: what was typed goes on.
	if _, err := pb.NewClubServiceClient(w.conn).RevokeDevice(w.as(demo.Secretary), &pb.RevokeDeviceRequest{Name: b.device()}); err != nil {
		t.Fatal(err)
	}
	b.editing(w.club(), url.Values{"policy": {"# typed long"}, "do": {"preview"}}).is(http.StatusUnauthorized).says("Nothing you typed is lost")
	if !strings.Contains(b.page, `name="kept.policy" value="# typed long"`) {
		t.Error(b.page)
	}
}

// device is the newest device of the secretary.
func (b *browser) device() string {
	b.w.t.Helper()
	listed, err := pb.NewClubServiceClient(b.w.conn).ListDevices(b.w.as(demo.Secretary), &pb.ListDevicesRequest{Parent: b.w.member(demo.Secretary)})
	if err != nil {
		b.w.t.Fatal(err)
	}
	return listed.Devices[len(listed.Devices)-1].Name
}
