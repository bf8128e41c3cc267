package cli

import (
	"time"

	"github.com/spf13/cobra"

	pb "gritward/proto/gritward/v1"
)

// What the tests of this package, which stand outside it, need to see of its inside.

// Root is the tree of commands.
func Root() *cobra.Command { return (&app{}).root() }

// ReadBike, BikeFile and ExampleBike are the reading and writing of bike files.
var (
	ReadBike    = readBike
	BikeFile    = bikeFile
	ExampleBike = exampleBike
)

// Clean is what makes text safe for a terminal.
var Clean = clean

// Readers of the values of flags.
var (
	GroupOf    = groupOf
	StopOf     = stopOf
	PlaceOf    = placeOf
	LocalStart = localStart
	PaceOf     = paceOf
	RolesOf    = rolesOf
)

// ChangedLines tells what is new in a text.
var ChangedLines = changedLines

// Table lays out a table.
func Table(colour bool, head []string, rows [][]string) string {
	p := &page{colour: colour}
	p.table(head, rows)
	return p.b.String()
}

// Progress starts telling that something goes on.
func Progress(world IO, what string) (done func()) { return (&app{io: world}).progress(what) }

// Confirm asks.
func Confirm(world IO, question string) error { return (&app{io: world}).confirm(question) }

// AllPages reads pages until the last.
func AllPages(read func(token string) ([]*pb.Bike, string, error)) ([]*pb.Bike, error) {
	return allPages(read)
}

// DefaultTimeout is how long one call may take.
const DefaultTimeout time.Duration = defaultTimeout

// KeepSettings keeps of groups what their flag does not say.
var KeepSettings = keepSettings
