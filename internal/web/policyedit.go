package web

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"
	"unicode/utf8"

	"gritward/internal/fault"
	"gritward/internal/names"
	policyfile "gritward/policy"
	pb "gritward/proto/gritward/v1"
)

const (
	// maxPolicy is the largest policy file, as the server takes it.
	maxPolicy = 1 << 20
	// maxEdited is the largest that can be edited on a page.
	maxEdited = 200 << 10
)

// editView is a policy file being edited.
type editView struct {
	// Text is the file, Name what it is called, Newest the newest policy that whoever edits it has seen.
	Text, Name, Newest string
	// Checked: the server looked at it, with Problems; Usable: it can be adopted.
	Checked, Usable bool
	Problems        []editProblem
	// Preview is whom it would affect; nil: not asked.
	Preview *previewView
	// Seen names what the preview was of, so that nothing else is adopted.
	Seen string
	// Last is the newest policy there is, and Meanwhile that it was adopted since.
	Last      string
	Meanwhile bool
	// Begins: no policy is in force, and the text is the one that comes with the program.
	Begins bool
}

// editProblem is a mistake, with the lines around it.
type editProblem struct {
	*pb.Problem
	Around []fileLine
	// Mark is what stands under the line of the mistake: blanks up to its column.
	Mark string
}

// Doubt tells that the file can be adopted all the same.
func (p editProblem) Doubt() bool { return p.Severity == pb.Problem_WARNING }

// Here tells whether a line is that of the mistake.
func (p editProblem) Here(line fileLine) bool { return line.Number == int(p.Line) }

// Numbers are the numbers of the lines, marked where something is wrong. A file has hundreds of them, which a template would take longer over
// than over the rest of the page.
func (e editView) Numbers() template.HTML {
	wrong := map[int]bool{}
	for _, problem := range e.Problems {
		wrong[int(problem.Line)] = true
	}
	lines := strings.Count(e.Text, "\n") + 1
	var all []byte
	for n := 1; n <= lines; n++ {
		all = strconv.AppendInt(append(all, `<span id="line-`...), int64(n), 10)
		if all = append(all, '"'); wrong[n] {
			all = append(all, ` class="wrong"`...)
		}
		all = append(strconv.AppendInt(append(all, '>'), int64(n), 10), "</span>"...)
	}
	return template.HTML(all)
}

// Rows is how many lines are shown at once: all of them, and room for more.
func (e editView) Rows() int { return max(strings.Count(e.Text, "\n")+3, 12) }

// policyEdit begins with the policy in force, or that of the number in the address.
func (v *visit) policyEdit() error {
	if err := v.mustKeep(); err != nil {
		return err
	}
	name := v.club() + "/policies/" + names.Any
	if from := v.r.URL.Query().Get("from"); from != "" {
		name = v.club() + "/policies/" + from
	}
	shown := editView{Name: "policy.yaml"}
	revision, err := v.policies.GetPolicy(v.ctx, &pb.GetPolicyRequest{Name: name})
	if err != nil && fault.Read(err).Reason != pb.Reason_NO_POLICY {
		return err
	}
	if revision.GetFile() != "" {
		shown.Name = revision.File
	}
	shown.Text = revision.GetText()
	if shown.Text == "" {
		shown.Begins, shown.Text, shown.Name = true, string(policyfile.Winter), "winter.yaml"
	}
	if shown.Newest, err = v.newestPolicy(); err != nil {
		return err
	}
	if len(shown.Text) > maxEdited {
		return tooLongToEdit("policy")
	}
	if err := v.check(&shown); err != nil {
		return err
	}
	return v.view("policyedit", "Edit the policy", shown)
}

// mustKeep refuses who is no secretary, before a form is shown that only secretaries can send.
func (v *visit) mustKeep() error {
	if v.has(pb.Role_SECRETARY) {
		return nil
	}
	return fault.New(pb.Reason_NOT_ALLOWED, "only a secretary of the club may do that")
}

// newestPolicy is the number of the newest policy; "0" where there is none.
func (v *visit) newestPolicy() (string, error) {
	listed, err := v.policies.ListPolicies(v.ctx, &pb.ListPoliciesRequest{Parent: v.club()})
	if len(listed.GetPolicies()) == 0 {
		return "0", err
	}
	return strconv.Itoa(int(listed.Policies[0].Number)), err
}

func tooLongToEdit(field string) error {
	return &fault.Error{Reason: pb.Reason_FIELD_INVALID, Message: "the file is too long to be edited on a page",
		Fields: []fault.Field{{Path: field, What: fmt.Sprintf("at most %d kB; adopt it from the command line: gritward policy adopt FILE", maxEdited>>10)}}}
}

// edited is what was typed, with line ends as files have them.
func (v *visit) edited() editView {
	form := v.form()
	return editView{Text: strings.ReplaceAll(form.Get("policy"), "\r\n", "\n"), Name: baseName(form.Get("file")), Newest: form.Get("newest")}
}

// baseName is the name of a file, without folders, short enough to be kept.
func baseName(name string) string {
	name = strings.ToValidUTF8(name[strings.LastIndexAny(name, `/\`)+1:], "?")
	if runes := []rune(name); len(runes) > 100 {
		name = string(runes[:100])
	}
	if strings.TrimSpace(name) == "" {
		return "policy.yaml"
	}
	return name
}

// policyEdited takes what was typed: to open another file, to check it, to see whom it affects, or to adopt it.
func (v *visit) policyEdited() error {
	if err := v.mustKeep(); err != nil {
		return err
	}
	shown := v.edited()
	do := v.form().Get("do")
	if do == "open" {
		return v.policyOpened(shown)
	}
	if err := v.check(&shown); err != nil {
		v.refuse(err, "policyedit", "Edit the policy", shown)
		return nil
	}
	if !shown.Usable || do == "check" {
		v.put(statusFor(shown), "policyedit", "Edit the policy", shown)
		return nil
	}
	from := v.form().Get("effective_from")
	shown.Seen = seenOf(shown.Text, from)
	if do == "adopt" && v.form().Get("seen") == shown.Seen {
		return v.adopt(shown, from)
	}
	if err := v.preview(&shown, from); err != nil {
		v.refuse(err, "policyedit", "Edit the policy", shown)
		return nil
	}
	return v.view("policyedit", "Edit the policy", shown)
}

// statusFor is the status for a file that was looked at.
func statusFor(shown editView) int {
	if shown.Usable {
		return http.StatusOK
	}
	return http.StatusUnprocessableEntity
}

// seenOf names a file and a day.
func seenOf(text, from string) string {
	sum := sha256.Sum256([]byte(from + "\n" + text))
	return hex.EncodeToString(sum[:])
}

// policyOpened takes a file from the device in place of what was typed.
func (v *visit) policyOpened(shown editView) error {
	file, err := v.file("upload", maxPolicy)
	if err == nil && file == nil {
		err = fault.Invalid("upload", "no file was chosen")
	}
	var content []byte
	if err == nil {
		content, err = file.Bytes()
	}
	switch {
	case err != nil:
	case len(content) > maxEdited:
		err = tooLongToEdit("upload")
	case !utf8.Valid(content):
		err = fault.Invalid("upload", "the file is no text in UTF-8; save it as such")
	case strings.ContainsRune(string(content), 0):
		err = fault.Invalid("upload", "the file is no text")
	}
	if err != nil {
		v.refuse(err, "policyedit", "Edit the policy", shown)
		return nil
	}
	shown.Text, shown.Name = strings.ReplaceAll(string(content), "\r\n", "\n"), baseName(file.Name)
	if err := v.check(&shown); err != nil {
		return err
	}
	return v.view("policyedit", "Edit the policy", shown)
}

// check has the server look at the file.
func (v *visit) check(shown *editView) error {
	if len(shown.Text) > maxPolicy {
		return fault.Invalid("policy", "a policy file has at most 1 MiB")
	}
	checked, err := v.policies.CheckPolicy(v.ctx, &pb.CheckPolicyRequest{Parent: v.club(), File: shown.Name, Content: []byte(shown.Text)})
	if err != nil {
		return err
	}
	shown.Checked, shown.Usable = true, checked.Usable
	lines := strings.Split(shown.Text, "\n")
	for _, problem := range checked.Problems {
		one := editProblem{Problem: problem}
		const around, wide = 2, 200
		for n := max(int(problem.Line)-around, 1); problem.Line > 0 && n <= min(int(problem.Line)+around, len(lines)); n++ {
			line := []rune(lines[n-1])
			one.Around = append(one.Around, fileLine{n, string(line[:min(len(line), wide)])})
		}
		if column := int(problem.Column); column > 0 && column <= wide {
			one.Mark = strings.Repeat(" ", column-1)
		}
		shown.Problems = append(shown.Problems, one)
	}
	return nil
}

// policyCheck is check while the file is typed.
func (v *visit) policyCheck() error {
	shown := v.edited()
	if err := v.check(&shown); err != nil {
		return err
	}
	return v.part(http.StatusOK, "checked", shown)
}
