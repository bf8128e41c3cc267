package web

import (
	"testing"

	"google.golang.org/grpc/encoding"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"

	pb "gritward/proto/gritward/v1"
)

// DistrustAnswers has every kept answer held against its bytes when it is given again.
func DistrustAnswers(told func(kind string)) { distrust.Store(&told) }

// TestAnswersKept: what is given again is what was answered, and lists may be cut and sorted; a change of what is in them is found.
func TestAnswersKept(t *testing.T) {
	c := &codec{CodecV2: encoding.GetCodecV2("proto")}
	want := &pb.ListMembersResponse{NextPageToken: "more"}
	for range 100 {
		want.Members = append(want.Members, &pb.Member{Name: "clubs/c/members/m", DisplayName: "Somebody with a name"})
	}
	data, err := proto.Marshal(want)
	if err != nil {
		t.Fatal(err)
	}
	ask := func() *pb.ListMembersResponse {
		got := &pb.ListMembersResponse{}
		if err := c.Unmarshal(mem.BufferSlice{mem.SliceBuffer(data[:700]), mem.SliceBuffer(data[700:])}, got); err != nil {
			t.Fatal(err)
		}
		return got
	}
	first, second := ask(), ask()
	if first.Members[7] != second.Members[7] {
		t.Error("the same bytes were read twice")
	}
	clear(first.Members)
	second.Members = append(second.Members[:3], second.Members[50:]...)
	second.NextPageToken = ""
	if third := ask(); !proto.Equal(third, want) {
		t.Errorf("answered: %v", third)
	}
	other := &pb.ListBikesResponse{}
	if err := c.Unmarshal(mem.BufferSlice{mem.SliceBuffer(data)}, other); err == nil && len(other.Bikes) != 100 {
		t.Errorf("as another answer, the same bytes are %v", other)
	}
	if err := c.Unmarshal(mem.BufferSlice{mem.SliceBuffer(append(data, 0xff))}, &pb.ListMembersResponse{}); err == nil {
		t.Error("bytes that are no message were read")
	}
	changed := ""
	before := distrust.Swap(nil)
	defer distrust.Store(before)
	DistrustAnswers(func(kind string) { changed = kind })
	ask().Members[0].DisplayName = "Somebody else"
	if ask(); changed != "gritward.v1.ListMembersResponse" {
		t.Errorf("a change is not found: %q", changed)
	}
}
