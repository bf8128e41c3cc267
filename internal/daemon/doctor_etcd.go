package daemon

import (
	"context"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"gritward/internal/settings"
	"gritward/internal/store/etcd"
	"gritward/internal/vitals"
)

// scarceSpace is from which part of its quota on somebody should make room in etcd: with a fifth left there are weeks to do it in. Ours.
const scarceSpace = 0.8

// roomInEtcd is how room is made, as etcd's handbook has it (https://etcd.io/docs/v3.4/op-guide/maintenance/#space-quota).
const roomInEtcd = "compact it (etcdctl compaction), give back what is free in each member (etcdctl defrag); where that is not enough give it more with --quota-backend-bytes, " +
	"or keep rides for less time (privacy: rides_kept)"

// etcdFound looks at the etcd of the settings, and tells of its members, its space and the certificates of the way there.
func etcdFound(ctx context.Context, e settings.Etcd, now time.Time) []vitals.Finding {
	options, err := etcdOptions(e)
	if err != nil {
		return failing("etcd-certificate", err.Error(), "The server does not start.", "put that right")
	}
	found, err := etcd.Look(ctx, options)
	if err != nil {
		return failing("etcd-members", err.Error(), "The server does not start.", "see etcd_endpoints")
	}
	return slices.Concat(membersFound(found), spaceFound(found), certificatesFound(e, found, now))
}

// membersFound tells whether all answer, and whether they are enough.
func membersFound(found etcd.Condition) []vitals.Finding {
	var wrong []string
	versions, answer := []string{}, 0
	for _, m := range found.Members {
		switch {
		case m.Failed != nil:
			wrong = append(wrong, m.Failed.Error())
		case m.Headless:
			wrong = append(wrong, m.Address+" knows of no member that leads")
		default:
			answer++
			if !slices.Contains(versions, m.Version) {
				versions = append(versions, m.Version)
			}
		}
	}
	what := strings.Join(wrong, "; ")
	switch {
	case answer == 0:
		return failing("etcd-members", what, "Nothing can be read or changed: every call fails.", "do what is said there; "+etcdWell)
	case 2*answer <= len(found.Members) && found.Voting <= len(found.Members):
		return failing("etcd-members", fmt.Sprintf("%d of %s: %s", len(wrong), counted(len(found.Members), "member"), what),
			"Without the majority nothing can be read or changed: every call fails.", "do what is said there; "+etcdWell)
	case found.Corrupt:
		return failing("etcd-members", "etcd raised the alarm for damaged data", "It refuses to work, since its members do not agree.",
			"see in the logs of etcd which member is damaged, and put a fresh one in its place (etcd's handbook: data corruption)")
	case len(wrong) > 0:
		return warning("etcd-members", fmt.Sprintf("%d of %s: %s", len(wrong), counted(len(found.Members), "member"), what),
			"The others go on without it for as long as they are the majority.", "do what is said there, before another one is lost")
	case found.Voting > len(found.Members):
		return warning("etcd-members", fmt.Sprintf("etcd has %s, and etcd_endpoints names %d", counted(found.Voting, "member"), len(found.Members)),
			"When those are gone the server has no store, though etcd goes on.", "name all of them: etcdctl member list")
	}
	return well("etcd-members", "%s, etcd %s", counted(len(found.Members), "member"), strings.Join(versions, " and "))
}

// spaceFound tells how full they are, by the one that is fullest.
func spaceFound(found etcd.Condition) []vitals.Finding {
	var fullest etcd.Member
	part := -1.0
	for _, m := range found.Members {
		is := 0.0
		if m.Quota > 0 {
			is = float64(m.Size) / float64(m.Quota)
		}
		if m.Failed == nil && is > part {
			fullest, part = m, is
		}
	}
	what := fmt.Sprintf("%s of %s taken at %s, %s of it in use", size(fullest.Size), size(fullest.Quota), fullest.Address, size(fullest.Used))
	if fullest.Quota == 0 {
		what = fmt.Sprintf("%s taken at %s; how much it may become (--quota-backend-bytes) is not told", size(fullest.Size), fullest.Address)
	}
	switch {
	case part < 0:
		return nil // no member answers, which is told already
	case found.Full:
		return failing("etcd-space", "etcd raised the alarm for want of space: "+what, "Nothing can be changed, no sign-up and no mark; reading goes on.",
			roomInEtcd+"; then etcdctl alarm disarm")
	case part > scarceSpace:
		return warning("etcd-space", what, "When it is full nothing can be changed any more.", roomInEtcd)
	}
	return well("etcd-space", "%s", what)
}

// certificatesFound tells which certificate of the way to etcd ends first.
func certificatesFound(e settings.Etcd, found etcd.Condition, now time.Time) []vitals.Finding {
	if e.CAFile == "" {
		return well("etcd-certificate", "none: the way there is in the open")
	}
	first, whose := time.Time{}, ""
	see := func(at time.Time, of string) {
		if !at.IsZero() && (first.IsZero() || at.Before(first)) {
			first, whose = at, of
		}
	}
	for _, m := range found.Members {
		see(m.Ends, "the certificate of "+m.Address+", or of its authority,") // in etcd_ca_file there may be authorities of old
	}
	ends, err := endOf(e.CertFile)
	if err != nil {
		return failing("etcd-certificate", err.Error(), "The server does not start.", "give a file with the lines BEGIN CERTIFICATE")
	}
	if see(ends, e.CertFile); first.IsZero() {
		return nil // no member answers, which is told already
	}
	what := fmt.Sprintf("%s ends %s", whose, first.UTC().Format("2006-01-02 15:04 UTC"))
	next := "renew it; the server reads etcd_ca_file, etcd_cert and etcd_key when it starts, so start it again: kill -USR2"
	switch left := first.Sub(now); {
	case left <= 0:
		return failing("etcd-certificate", strings.Replace(what, " ends ", " ended ", 1), "The server has no way to its store when it connects anew.", next)
	case left < endsSoon:
		return warning("etcd-certificate", what, fmt.Sprintf("In %.0f days the server has no way to its store.", left.Hours()/24), next)
	}
	return well("etcd-certificate", "%s, the first that does", what)
}

// endOf is when the first of the certificates in a file ends; zero for no file.
func endOf(file string) (ends time.Time, err error) {
	if file == "" {
		return ends, nil
	}
	rest, err := os.ReadFile(file)
	if err != nil {
		return ends, err
	}
	for block, rest := pem.Decode(rest); block != nil; block, rest = pem.Decode(rest) {
		if block.Type != "CERTIFICATE" {
			continue
		}
		cert, err := x509.ParseCertificate(block.Bytes)
		if err != nil {
			return ends, fmt.Errorf("%s: %w", file, err)
		}
		if ends.IsZero() || cert.NotAfter.Before(ends) {
			ends = cert.NotAfter
		}
	}
	if ends.IsZero() {
		return ends, fmt.Errorf("%s has no certificate (PEM)", file)
	}
	return ends, nil
}

// etcd: what keeps the store is well. One finding: the worst, or all that is well.
func (r *running) etcd(ctx context.Context) vitals.Finding {
	findings := append(r.troubles(), etcdFound(ctx, r.settings.Etcd, r.now())...)
	said := []string{}
	worst := vitals.Sum(findings).State
	for _, f := range findings {
		if f.State == worst && worst != vitals.OK {
			f.Check = "etcd"
			return f
		}
		said = append(said, f.Found)
	}
	return vitals.Well("etcd", "%s", strings.Join(said, "; "))
}

// troubles are the clubs that cannot be read from etcd.
func (r *running) troubles() []vitals.Finding {
	if r.clubsInTrouble == nil {
		return nil
	}
	var said []string
	for club, err := range r.clubsInTrouble() {
		said = append(said, fmt.Sprintf("%s (%v)", club, err))
	}
	if len(said) == 0 {
		return nil
	}
	slices.Sort(said)
	return failing("etcd", "cannot be read from etcd: "+strings.Join(firstOf(said, 5), ", "), "Calls for them fail; it is tried again all the while.",
		etcdWell+"; a record that something else wrote or damaged comes back with a snapshot of etcd (etcdctl snapshot restore)")
}
