package server_test

import (
	pb "gritward/proto/gritward/v1"
)

// giveContacts has a member say whom to call.
func (w *world) giveContacts(id string, words map[string]string) error {
	_, err := w.personal.SetEmergencyContacts(w.as(id), &pb.SetEmergencyContactsRequest{Contacts: &pb.EmergencyContacts{
		Name: club + "/members/" + id + "/contacts", MedicalNote: words["medical note"],
		Call: []*pb.EmergencyContact{{ContactName: words["contact"], Phone: words["phone"], Relation: "sister"}},
	}})
	return err
}
