package web

import (
	"strings"

	"gritward/internal/names"
	"gritward/internal/phrase"
	pb "gritward/proto/gritward/v1"
)

// auditPage is how many entries a page of the audit log has.
const auditPage = 50

// auditView is a page of the audit log.
type auditView struct {
	Entries []*pb.AuditEntry
	Called  map[string]string
	// About is the record that the entries are about, Next where the older ones begin, Head where the log ends.
	About, Next, Head string
}

func (a auditView) filled(form *Form) { form.with(map[string][]string{"about": {a.About}}) }

// Older is the end of the address of the entries before these.
func (a auditView) Older() string { return "?" + query("about", a.About, "before", a.Next) }

// By is who did something.
func (a auditView) By(entry *pb.AuditEntry) string {
	if entry.GetActor() == "server" {
		return "the server"
	}
	return phrase.FirstOf(a.Called[entry.GetActor()], "former member "+names.Last(entry.GetActor()))
}

// To is the record that something was done to, without the club, a member by name.
func (a auditView) To(entry *pb.AuditEntry) string {
	name := spelled(entry.GetResource(), a.Called)
	_, rest, _ := strings.Cut(strings.TrimPrefix(name, "clubs/"), "/")
	if name != entry.GetResource() {
		return name
	}
	return phrase.FirstOf(rest, "the club")
}

// audit shows who did what, newest first.
func (v *visit) audit() error {
	asked := v.r.URL.Query()
	shown := auditView{About: strings.TrimSpace(asked.Get("about"))}
	all, err := v.everyone()
	if err != nil {
		return err
	}
	shown.Called = called(all)
	about := shown.About
	for _, member := range all { // a name will do
		if about != "" && strings.EqualFold(member.DisplayName, about) {
			about = member.Name
		}
	}
	token := asked.Get("before")
	for range maxPages { // of a record a page may be short, and yet not the last
		answer, err := v.clubs.ListAudit(v.ctx, &pb.ListAuditRequest{Parent: v.club(), About: about, PageToken: token, PageSize: auditPage})
		if err != nil {
			v.refuse(err, "audit", "Audit log", shown)
			return nil
		}
		shown.Entries, shown.Head, token = append(shown.Entries, answer.Entries...), answer.Head, answer.NextPageToken
		if token == "" || len(shown.Entries) >= auditPage/2 {
			break
		}
	}
	shown.Next = token
	return v.view("audit", "Audit log", shown)
}
