package server

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"sync"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	"gritward/internal/ledger"
	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

const (
	// maxExport is how large the records of an export may be before they are packed, in bytes. Ours.
	maxExport = 64 << 20
	// exportPiece is how much of an archive goes into one message, in bytes.
	exportPiece = 64 << 10
)

const exportReadMe = `This archive holds what the club keeps about you, one record a file, as JSON.

  member.json          your record
  contacts.json        whom to call about you
  readings/            who read that, when, for which ride
  devices/             your devices, without their tokens, of which only a digest is kept
  invites/             the invites that let you in, without their codes, of which only a digest is kept
  bikes/               your bikes, every declaration, the care log, the rides that they rode home, look-overs at the start
  rides/               your sign-ups, your marks of the roll call, your line of each roster,
                       your part of incident records
  audit/               what you did, and what was done to your records

Other members stand in it as "-", but for those who read whom to call about you.
Not in it: what is about others or about a ride as a whole (routes, plans, briefs, recorded times of groups, notices of
the roll call, policies, invites that you made, pins); what you did there stands in audit/. Nor requests of the last day, kept so that
one sent twice counts once.
`

// ExportMember implements PersonalService. The archive is made in memory, so that no reader, however slow, holds a
// transaction open; the caller is looked at again before each piece.
func (s *personalService) ExportMember(request *pb.ExportMemberRequest, stream grpc.ServerStreamingServer[pb.ExportMemberResponse]) error {
	ctx := stream.Context()
	who := callerOf(ctx)
	ids, err := names.In(who.club, "name", request.Name, names.MemberShape)
	if err != nil {
		return err
	}
	err = s.update(ctx, who, func(tx *ledger.Tx) error { // by itself: reading all records takes too long to keep writers waiting
		return tx.Append(audit(who, "PersonalService/ExportMember", request.Name, "exported everything about the member"))
	})
	if err != nil {
		return err
	}
	var made bytes.Buffer
	if err := s.view(ctx, who, func(tx *ledger.Tx) error { return s.export(tx, ids[1], &made) }); err != nil {
		return err
	}
	for data := made.Bytes(); len(data) > 0; {
		if err := s.view(ctx, who, func(*ledger.Tx) error { return nil }); err != nil {
			return err
		}
		piece := data[:min(exportPiece, len(data))]
		if err := stream.Send(&pb.ExportMemberResponse{Data: piece, TotalBytes: int64(made.Len())}); err != nil {
			return err
		}
		data = data[len(piece):]
	}
	return nil
}

// archive is an export under way.
type archive struct {
	zip  *zip.Writer
	at   time.Time
	self string
	size int
}

// otherMembers finds the ids of members in resource names.
var otherMembers = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`/(members|signups)/([a-z0-9-]+)`) })

// add writes one record; ids of others are left out of it.
func (a *archive) add(path string, record proto.Message) error {
	text, err := protojson.MarshalOptions{UseProtoNames: true}.Marshal(record)
	if err != nil {
		return err
	}
	return a.write(path, otherMembers().ReplaceAllFunc(text, func(found []byte) []byte {
		part := otherMembers().FindSubmatch(found)
		if string(part[2]) == a.self {
			return found
		}
		return fmt.Appendf(nil, "/%s/-", part[1])
	}))
}

// write lays out JSON and puts it into the archive.
func (a *archive) write(path string, text []byte) error {
	var laid bytes.Buffer
	if err := json.Indent(&laid, text, "", "  "); err != nil {
		return err
	}
	if a.size += laid.Len(); a.size > maxExport {
		return fault.New(pb.Reason_MESSAGE_TOO_LARGE, "there is more about you than %d MiB; ask whoever runs the server for it", maxExport>>20)
	}
	file, err := a.file(path)
	if err == nil {
		_, err = file.Write(append(laid.Bytes(), '\n'))
	}
	return err
}

// file begins a file of the archive, as of the time of the export.
func (a *archive) file(path string) (io.Writer, error) {
	return a.zip.CreateHeader(&zip.FileHeader{Name: path, Method: zip.Deflate, Modified: a.at})
}

// export writes the archive of a member.
func (s *personalService) export(tx *ledger.Tx, id string, out io.Writer) error {
	a := &archive{zip: zip.NewWriter(out), self: id, at: tx.Now}
	readMe, err := a.file("READ-ME.txt")
	if err != nil {
		return err
	}
	if _, err := io.WriteString(readMe, exportReadMe); err != nil {
		return err
	}
	for _, part := range []func(*ledger.Tx, *archive) error{s.exportSelf, exportBikes, exportRides, exportAudit} {
		if err := part(tx, a); err != nil {
			return err
		}
	}
	return a.zip.Close()
}

// exportSelf writes the member, the devices, the contacts and who read them, and the invites.
func (s *personalService) exportSelf(tx *ledger.Tx, a *archive) error {
	member, err := tx.Member(a.self)
	if err != nil {
		return err
	}
	if err := a.add("member.json", member); err != nil {
		return err
	}
	contacts, err := tx.Contacts(s.keys, a.self)
	if err == nil && contacts != nil {
		err = a.add("contacts.json", contacts)
	}
	if err != nil {
		return err
	}
	err = tx.ReadingsDown(a.self, 0, 0, func(reading *pb.ContactReading) error {
		if err := inWords(tx, reading); err != nil {
			return err
		}
		text, err := protojson.MarshalOptions{UseProtoNames: true}.Marshal(reading)
		if err != nil {
			return err
		}
		return a.write("readings/"+names.Last(reading.Name)+".json", text)
	})
	if err != nil {
		return err
	}
	err = tx.Devices(a.self, func(record *pb.DeviceRecord) error {
		return a.add("devices/"+names.Last(record.Device.Name)+".json", record.Device)
	})
	if err != nil {
		return err
	}
	return tx.Invites(func(record *pb.InviteRecord) error {
		if invite := record.Invite; invite.AcceptedBy == member.Name || invite.ForMember == member.Name {
			return a.add("invites/"+names.Last(invite.Name)+".json", invite)
		}
		return nil
	})
}

// exportBikes writes the bikes with all that hangs on them.
func exportBikes(tx *ledger.Tx, a *archive) error {
	var bikes []string
	err := tx.Bikes(a.self, "", 0, func(bike *pb.Bike) error {
		bikes = append(bikes, names.Last(bike.Name))
		return a.add("bikes/"+names.Last(bike.Name)+"/bike.json", bike)
	})
	for _, bike := range bikes {
		put := func(kind, name string, record proto.Message) error {
			return a.add("bikes/"+bike+"/"+kind+"/"+names.Last(name)+".json", record)
		}
		if err == nil {
			err = tx.Declarations(a.self, bike, 0, 0, func(one *pb.Declaration) error { return put("declarations", one.Name, one) })
		}
		if err == nil {
			err = tx.Care(a.self, bike, 0, 0, func(one *pb.CareEntry) error { return put("care", one.Name, one) })
		}
		if err == nil {
			err = tx.Ridden(a.self, bike, func(one *pb.RiddenRide) error { return put("rides", ledger.RiddenID(one), one) })
		}
		if err == nil {
			err = tx.LookOvers(a.self, bike, func(one *pb.LookOver) error {
				if names.Last(one.By) != a.self {
					one.By = "" // of nobody else
				}
				return put("lookovers", one.Name, one)
			})
		}
	}
	return err
}

// exportRides writes what there is of the member in each ride.
func exportRides(tx *ledger.Tx, a *archive) error {
	self := names.Member(tx.Club, a.self)
	return tx.Rides("", 0, func(ride *pb.Ride) error {
		id := names.Last(ride.Name)
		folder := "rides/" + id + "/"
		if ride.Leader == self {
			if err := a.add(folder+"led.json", &pb.Ride{Name: ride.Name, Title: ride.Title, StartLocal: ride.StartLocal, Leader: ride.Leader, LeaderPhone: ride.LeaderPhone}); err != nil {
				return err
			}
		}
		signup, err := tx.FindSignup(id, a.self)
		if err == nil && signup != nil {
			err = a.add(folder+"signup.json", signup)
		}
		if err != nil {
			return err
		}
		err = tx.Marks(id, func(mark *pb.Mark) error {
			if mark.Member != self {
				return nil
			}
			return a.add(folder+"marks/"+names.Last(mark.Name)+".json", mark)
		})
		if err != nil {
			return err
		}
		err = tx.Incidents(id, "", 0, func(incident *pb.Incident) error {
			if part := partOf(incident, self); part != nil {
				return a.add(folder+"incidents/"+names.Last(incident.Name)+".json", part)
			}
			return nil
		})
		if err != nil {
			return err
		}
		return tx.Rosters(id, func(issue *pb.Roster) error {
			if line := lineOf(issue, self); line != nil {
				return a.add(folder+"rosters/"+strconv.Itoa(int(issue.Number))+".json", line)
			}
			return nil
		})
	})
}

// lineOf is what a roster says of a member: a roster with that line alone; nil when it says nothing.
func lineOf(issue *pb.Roster, self string) *pb.Roster {
	placement, there := &pb.Placement{}, false
	for _, group := range issue.GetPlacement().GetGroups() {
		for _, row := range group.Rows {
			for _, rider := range []*pb.Rider{row.Left, row.Right} {
				if rider.GetMember() == self {
					line := proto.CloneOf(rider)
					line.WishedWhy = "" // it may tell of others
					placement.Groups = append(placement.Groups, &pb.RosterGroup{Group: group.Group, Title: group.Title, Rows: []*pb.Row{{Left: line}}})
					there = true
				}
			}
		}
	}
	for _, one := range issue.GetPlacement().GetUnplaced() {
		if one.Member == self {
			placement.Unplaced = append(placement.Unplaced, &pb.Unplaced{Member: self, DisplayName: one.DisplayName, Bike: one.Bike, BikeTitle: one.BikeTitle,
				Findings: one.Findings, Waiting: one.Waiting})
			there = true
		}
	}
	if !there {
		return nil
	}
	return &pb.Roster{Name: issue.Name, Number: issue.Number, PublishedAt: issue.PublishedAt, PolicyNumber: issue.PolicyNumber, Placement: placement}
}

// exportAudit writes the entries by the member, or about the member's records.
func exportAudit(tx *ledger.Tx, a *archive) error {
	self := names.Member(tx.Club, a.self)
	return tx.AuditDown(0, 0, func(entry *pb.AuditEntry) error {
		if !concerns(entry, self) && names.Part(entry.Resource, "signups") != a.self {
			return nil
		}
		return a.add(fmt.Sprintf("audit/%d.json", entry.Number), entry)
	})
}
