package ledger

import (
	"fmt"
	"strings"

	"gritward/internal/names"
	pb "gritward/proto/gritward/v1"
)

// Bike reads a bike, with its newest declaration, by its member's id and its own.
func (t *Tx) Bike(member, id string) (*pb.Bike, error) {
	return load(t, "bike/"+member+"/"+id, names.Bike(t.Club, member, id), &pb.Bike{})
}

// SaveBike writes a bike under its name, with a new etag.
func (t *Tx) SaveBike(bike *pb.Bike) error {
	ids, err := t.ids(bike.Name, names.BikeShape)
	if err != nil {
		return err
	}
	if err := tag(bike, func(b *pb.Bike, etag string) { b.Etag = etag }); err != nil {
		return err
	}
	return t.save("bike/"+ids[1]+"/"+ids[2], bike)
}

// AddDeclaration writes one revision of a bike's declaration. A revision is never written twice:
// ALREADY_EXISTS.
func (t *Tx) AddDeclaration(declaration *pb.Declaration) error {
	ids, err := t.ids(declaration.Name, names.DeclarationShape)
	if err != nil {
		return err
	}
	return t.add(fmt.Sprintf("%s%08d", declarationKey(ids[1], ids[2]), declaration.Revision),
		declaration, declaration.Name, names.Declaration(t.Club, ids[1], ids[2], declaration.Revision))
}

// Declarations visits the revisions of a bike's declaration, oldest first, from the one after the number given, 0: from
// the first; at most limit, 0: all.
func (t *Tx) Declarations(member, bike string, after, limit int, visit func(*pb.Declaration) error) error {
	prefix := declarationKey(member, bike)
	return each(t, prefix, fmt.Sprintf("%s%08d", prefix, after), func() *pb.Declaration { return &pb.Declaration{} }, limited(limit, visit))
}

func declarationKey(member, bike string) string { return "declaration/" + member + "/" + bike + "/" }

// Bikes visits bikes in the order of their names, from the one after the position given ("member/bike" or ""): those of
// one member, or with names.Any of all; at most limit, 0: all.
func (t *Tx) Bikes(member, after string, limit int, visit func(*pb.Bike) error) error {
	prefix := "bike/"
	if member != names.Any {
		prefix += member + "/"
	}
	if after != "" {
		after = "bike/" + after
	}
	return each(t, prefix, after, func() *pb.Bike { return &pb.Bike{} }, limited(limit, visit))
}

// BikePosition is where a bike stands in the order of Bikes.
func BikePosition(name string) string {
	return strings.Join([]string{names.Part(name, "members"), names.Part(name, "bikes")}, "/")
}
