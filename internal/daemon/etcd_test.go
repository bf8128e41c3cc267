//go:build etcd

package daemon_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"gritward/internal/fault"
	"gritward/internal/store/etcd/etcdtest"
	"gritward/internal/vitals"
	pb "gritward/proto/gritward/v1"
)

// foundIn founds a club in an etcd, and gives the code of its first invite.
func foundIn(t *testing.T, args ...string) (invite string) {
	t.Helper()
	code, out, errOut := run(t, append([]string{"found", "fenwick", "--title", "Fenwick Wheelers", "--secretary", "Ida Rook",
		"--zone", "Europe/London", "--at", "54.1,-2.2", "--json"}, args...)...)
	var answer struct {
		Code string `json:"invite_code"`
	}
	if err := json.Unmarshal([]byte(out), &answer); err != nil || code != 0 {
		t.Fatalf("exit %d, %v: %s", code, err, errOut)
	}
	return answer.Code
}

// TestDoctorsEtcd has the doctor look at an etcd of three members with TLS: well, with a member gone, with one named of three, with another
// authority, with most of them gone, and without its certificate.
func TestDoctorsEtcd(t *testing.T) {
	authority := etcdtest.NewAuthority(t)
	cluster := etcdtest.NewSecureCluster(t, 3, authority)
	cert, key := authority.Issue(t, "server", 30*24*time.Hour)
	data := filepath.Join(t.TempDir(), "club.db")
	with := func(ca string, endpoints ...string) []string {
		return []string{"--data", data, "--etcd-endpoints", strings.Join(endpoints, ","), "--etcd-ca-file", ca, "--etcd-cert", cert, "--etcd-key", key, "--etcd-timeout", "2s"}
	}
	all := cluster.Addresses()
	foundIn(t, with(authority.File, all...)...)
	old, _ := authority.Issue(t, "old", -time.Minute)
	both := filepath.Join(t.TempDir(), "both.pem")
	var content []byte
	for _, file := range []string{old, authority.File} {
		one, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		content = append(content, one...)
	}
	if err := os.WriteFile(both, content, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		what string
		do   func()
		args []string
		want map[string]string // state and words, by check
	}{
		{"well", nil, with(authority.File, all...), map[string]string{"etcd-members": "ok 3 members, etcd 3.", "etcd-space": "ok of 2.0 GiB taken at 127.0.0.", // etcd's own quota
			"etcd-certificate": "warning ends ", "store": "ok 1 club"}}, // the authority ends tomorrow
		{"an authority of old beside the new one", nil, with(both, all...), map[string]string{"etcd-certificate": "warning ends "}},
		{"one named", nil, with(authority.File, all[0]), map[string]string{"etcd-members": "warning etcd has 3 members, and etcd_endpoints names 1"}},
		{"another authority", nil, with(etcdtest.NewAuthority(t).File, all...), map[string]string{"etcd-members": "failing not from an authority in etcd_ca_file", "store": "failing etcd-members"}},
		{"in the open", nil, []string{"--data", data, "--etcd-endpoints", all[0], "--etcd-timeout", "2s"}, map[string]string{"etcd-members": "failing give etcd_ca_file"}},
		{"one gone", func() { cluster.Kill(2) }, with(authority.File, all...), map[string]string{"etcd-members": "warning 1 of 3 members: 127.0.0.3", "store": "ok 1 club"}},
		{"most gone", func() { cluster.Kill(1) }, with(authority.File, all...), map[string]string{"etcd-members": "failing 2 of 3 members", "store": "failing etcd-members"}},
	} {
		if row.do != nil {
			row.do()
		}
		_, out, errOut := run(t, append([]string{"doctor", "--json"}, row.args...)...)
		var report vitals.Report
		if err := json.Unmarshal([]byte(out), &report); err != nil {
			t.Fatalf("%s: %v: %s%s", row.what, err, out, errOut)
		}
		for check, want := range row.want {
			state, says, _ := strings.Cut(want, " ")
			if !slices.ContainsFunc(report.Findings, func(f vitals.Finding) bool {
				return f.Check == check && string(f.State) == state && strings.Contains(f.Found+" "+f.Next, says) && (f.Means != "" && f.Next != "") == (f.State != vitals.OK)
			}) {
				t.Errorf("%s: %s is not told to be %s in %s", row.what, check, want, out)
			}
		}
	}
}

// TestFullEtcd fills the etcd of a running server: callers are told that the store is full, and can read; health and doctor say what to do;
// once that is done, calls that write are answered again.
func TestFullEtcd(t *testing.T) {
	const quota = 32 << 20
	cluster := etcdtest.NewCluster(t, 1, "--quota-backend-bytes", fmt.Sprint(quota))
	data := filepath.Join(t.TempDir(), "club.db")
	args := []string{"--data", data, "--etcd-endpoints", cluster.Addresses()[0]}
	invite := foundIn(t, args...)
	if cluster.Fill(quota * 13 / 16) {
		t.Fatal("it is full")
	}
	f := examined(t, "etcd-space", args...)
	for until := time.Now().Add(time.Minute); f.State == vitals.OK && time.Now().Before(until); { // etcd tells its size as of when it last wrote its file
		f = examined(t, "etcd-space", args...)
	}
	if f.State != vitals.Warning || !strings.Contains(f.Next, "etcdctl defrag") {
		t.Errorf("nearly full: %+v", f)
	} else {
		t.Log(f.Found)
	}
	server := start(t, args...)
	clubs, ctx := signedIn(t, server.says(t, `Serving 1 club on (\S+)`), invite)
	writes := func() error {
		_, err := clubs.CreateInvite(ctx, &pb.CreateInviteRequest{Parent: "clubs/fenwick", Invite: &pb.Invite{DisplayName: "Una Fold", Roles: []pb.Role{pb.Role_MEMBER}}})
		return err
	}
	if !cluster.Fill(quota) {
		t.Fatal("it is not full")
	}
	if err := writes(); status.Code(err) != codes.Unavailable || fault.Read(err) == nil || fault.Read(err).Reason != pb.Reason_STORE_FULL || !strings.Contains(err.Error(), "nothing of this call was done") {
		t.Errorf("a caller is told %v", err)
	}
	if _, err := clubs.GetClub(ctx, &pb.GetClubRequest{Name: "clubs/fenwick"}); err != nil {
		t.Errorf("reading: %v", err)
	}
	code, out, errOut := run(t, "health", "--data", data)
	if code != 1 || !strings.Contains(out, "failing etcd: etcd raised the alarm for want of space") || !strings.Contains(out, "etcdctl alarm disarm") {
		t.Errorf("health: %d, %s%s", code, out, errOut)
	}
	if f := examined(t, "server-etcd", args...); f.State != vitals.Failing || !strings.Contains(f.Next, "etcdctl alarm disarm") {
		t.Errorf("the doctor, of the running server: %+v", f)
	}
	if !strings.Contains(server.log.String(), "database space exceeded") {
		t.Errorf("the log does not say so: %s", server.log)
	}
	cluster.MakeRoom()
	if err := writes(); err != nil {
		t.Errorf("with room again: %v", err)
	}
	if f := examined(t, "etcd-space", "--data", data+"-other", "--etcd-endpoints", cluster.Addresses()[0]); f.State != vitals.OK {
		t.Errorf("with room again: %+v", f)
	}
}
