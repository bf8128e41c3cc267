package ledger

import (
	"bytes"
	"crypto/sha256"
	"time"

	"google.golang.org/protobuf/proto"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// requestKept is for how long an answered request can be repeated.
const requestKept = 24 * time.Hour

// Request is one call that creates something, with the id by which its client would repeat it. Its digest is taken when
// it is first asked about, before anything is made of the message.
type Request struct {
	Member, ID, Method string
	Message            proto.Message
	digest             []byte
}

// Answered says which record this very request made before; "" when it is new or has no id. REQUEST_ID_REUSED when the
// id came with another request.
func (t *Tx) Answered(request *Request) (string, error) {
	if request.ID == "" {
		return "", nil
	}
	sum, err := request.sum()
	if err != nil {
		return "", err
	}
	record, err := find[pb.AnsweredRequest](t, requestKey(request))
	if err != nil || record == nil || t.Now.Sub(record.AnsweredAt.AsTime()) > requestKept {
		return "", err
	}
	if !bytes.Equal(sum, record.RequestSha256) {
		return "", fault.New(pb.Reason_REQUEST_ID_REUSED,
			"request_id %q was used for another request; use a new one", request.ID)
	}
	return record.Resource, nil
}

// Answer remembers which record the request made, until ForgetRequests.
func (t *Tx) Answer(request *Request, resource string) error {
	if request.ID == "" {
		return nil
	}
	sum, err := request.sum()
	if err != nil {
		return err
	}
	return t.save(requestKey(request), &pb.AnsweredRequest{
		RequestSha256: sum, Resource: resource, AnsweredAt: t.Stamp()})
}

// ForgetRequests deletes the answered requests of all members that are too old to be repeated.
func (t *Tx) ForgetRequests() error {
	var old []string
	err := t.tx.Scan("request/", "", func(key string, value []byte) (bool, error) {
		record := &pb.AnsweredRequest{}
		err := decode(key, value, record)
		if err == nil && t.Now.Sub(record.AnsweredAt.AsTime()) > requestKept {
			old = append(old, key)
		}
		return err == nil, err
	})
	if err != nil {
		return err
	}
	for _, key := range old {
		if err := t.tx.Delete(key); err != nil {
			return err
		}
	}
	return nil
}

func (r *Request) sum() ([]byte, error) {
	if r.digest != nil {
		return r.digest, nil
	}
	err := encoded([]byte(r.Method+"\x00"), r.Message, func(data []byte) error {
		sum := sha256.Sum256(data)
		r.digest = sum[:]
		return nil
	})
	return r.digest, err
}

func requestKey(r *Request) string { return "request/" + r.Member + "/" + r.ID }
