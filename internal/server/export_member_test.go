package server_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"gritward/internal/store"
	pb "gritward/proto/gritward/v1"
)

// export reads a member's archive, as path and content.
func (w *world) export(id string) (map[string]string, error) {
	stream, err := w.personal.ExportMember(w.as(id), &pb.ExportMemberRequest{Name: club + "/members/" + id})
	if err != nil {
		return nil, err
	}
	var data []byte
	for {
		piece, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		data = append(data, piece.Data...)
	}
	read, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, err
	}
	files := map[string]string{}
	for _, file := range read.File {
		if !file.Modified.Equal(w.clock()) {
			return nil, fmt.Errorf("%s is dated %s", file.Name, file.Modified)
		}
		opened, err := file.Open()
		if err != nil {
			return nil, err
		}
		content, err := io.ReadAll(opened)
		if err != nil {
			return nil, err
		}
		files[file.Name] = string(content)
	}
	return files, nil
}

// notExported are the kinds of records that name a member and are not in the export, each with the reason.
var notExported = map[string]string{
	"token": "the way from a token's digest to its device", "request": "kept a day, so that one sent twice counts once",
	"policy": "the club's; that the member adopted it is in the audit entries", "ride": "the ride's; what the member does for it is in led.json and the audit entries",
	"namelike": "the way to the member from a digest of what the name looks like", "role": "the way to the member from a role, which is in the member's record",
	"ward":   "the way to the member from the guardian or host, who is in the member's record",
	"change": "what watchers of a ride are told of; the records that changed are in the export", "notice": "the roll call's, about several riders",
}

// TestExportHoldsEverything walks every key of the store: each that names ben is in the export under its path, or of a kind that
// is said not to be. Nobody else is named in it but who read ben's contacts.
func TestExportHoldsEverything(t *testing.T) {
	w, ride := contactsWorld(t)
	if _, err := w.bikes.RecordCare(w.as("ben"), &pb.RecordCareRequest{Parent: club + "/members/ben/bikes/bike-1",
		Entry: &pb.CareEntry{Work: pb.CareEntry_WASHED, DoneOn: "2026-12-10"}}); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.starts.RecordLookOver(w.as("lea"), &pb.RecordLookOverRequest{Parent: ride.Name, Member: club + "/members/ben"}); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(ride.StartAt.AsTime())
	w.marked(ride, "m1", "ben", pb.Mark_SIGNED_ON)
	if _, err := w.readContacts("lea", ride, "ben"); err != nil {
		t.Fatal(told(err))
	}
	w.setClock(ride.StartAt.AsTime().Add(5 * time.Hour))
	w.marked(ride, "m2", "ben", pb.Mark_HOME)
	if _, err := w.recordIncident("lea", ride.Name, fell()); err != nil {
		t.Fatal(told(err))
	}
	if _, err := w.incidents.AmendIncident(w.as("ben"), &pb.AmendIncidentRequest{Name: ride.Name + "/incidents/1", Text: "It was the rear wheel."}); err != nil {
		t.Fatal(told(err))
	}
	files, err := w.export("ben")
	if err != nil {
		t.Fatal(told(err))
	}
	kinds := map[string]bool{}
	err = w.store.View(w.ctx, "fenwick", func(tx store.Tx) error {
		return tx.Scan("", "", func(key string, value []byte) (bool, error) {
			parts := strings.Split(key, "/")
			named := strings.Contains(key+"/", "/ben/") || bytes.Contains(value, []byte("members/ben")) || bytes.Contains(value, []byte("signups/ben"))
			if named && notExported[parts[0]] == "" {
				kinds[parts[0]] = true
				if path := exportPath(parts); path == "" && parts[0] != "invite" || path != "" && files[path] == "" {
					t.Errorf("%s names the member, and is neither in the export (as %q) nor said not to be", key, path)
				}
			}
			return true, nil
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{"member", "device", "contact", "reading", "invite", "bike", "declaration", "care", "ridden", "lookover", "signup", "mark", "roster", "audit", "incident", "incidentadd"} {
		if !kinds[kind] {
			t.Errorf("no record of the kind %s was looked for", kind)
		}
	}
	all := ""
	for path, content := range files {
		all += path + "\n"
		if strings.HasPrefix(path, "readings/") {
			continue
		}
		for _, other := range []string{"members/lea", "members/ada", "members/bo", "members/sec", "signups/ada", `"Ada"`, `"Lea"`, `"Bo"`} {
			if strings.Contains(content, other) {
				t.Errorf("%s names %s:\n%s", path, other, content)
			}
		}
	}
	if !strings.Contains(all, "invites/") || !strings.Contains(files["READ-ME.txt"], "what the club keeps about you") {
		t.Errorf("files:\n%s", all)
	}
	if !strings.Contains(files["contacts.json"], ofBen["phone"]) || !strings.Contains(files["readings/1.json"], `"Lea"`) {
		t.Errorf("%s%s", files["contacts.json"], files["readings/1.json"])
	}
	if _, err := w.personal.ExportMember(w.as("sec"), &pb.ExportMemberRequest{Name: club + "/members/ben"}); err == nil {
		stream, _ := w.personal.ExportMember(w.as("sec"), &pb.ExportMemberRequest{Name: club + "/members/ben"})
		if _, err := stream.Recv(); !strings.Contains(told(err), "NOT_ALLOWED") {
			t.Errorf("a secretary: %s", told(err))
		}
	}
}

// exportPath is where the record of a key lies in an export; "" where that is not known from the key.
func exportPath(parts []string) string {
	plain := func(number string) string { return strings.TrimLeft(number, "0") + ".json" }
	switch parts[0] {
	case "member":
		return "member.json"
	case "contact":
		return "contacts.json"
	case "device":
		return "devices/" + parts[2] + ".json"
	case "reading":
		return "readings/" + plain(parts[2])
	case "bike":
		return "bikes/" + parts[2] + "/bike.json"
	case "declaration":
		return "bikes/" + parts[2] + "/declarations/" + plain(parts[3])
	case "care":
		return "bikes/" + parts[2] + "/care/" + plain(parts[3])
	case "ridden":
		return "bikes/" + parts[2] + "/rides/" + parts[3] + ".json"
	case "lookover":
		return "bikes/" + parts[2] + "/lookovers/" + plain(parts[3])
	case "signup":
		return "rides/" + parts[1] + "/signup.json"
	case "mark":
		return "rides/" + parts[1] + "/marks/" + parts[2] + ".json"
	case "roster":
		return "rides/" + parts[1] + "/rosters/" + plain(parts[2])
	case "incident", "incidentadd":
		return "rides/" + parts[1] + "/incidents/" + plain(parts[2])
	case "audit":
		return "audit/" + plain(parts[1])
	}
	return ""
}
