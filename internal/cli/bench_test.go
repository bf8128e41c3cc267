package cli_test

import (
	"fmt"
	"testing"

	"gritward/internal/cli"
)

// BenchmarkTable lays out the members of a large club.
func BenchmarkTable(b *testing.B) {
	var rows [][]string
	for i := range 1000 {
		rows = append(rows, []string{fmt.Sprintf("member-%d", i), "Ida Ångström-自行车", "member, leader", "22-27 km/h", "held"})
	}
	for b.Loop() {
		cli.Table(true, []string{"member", "name", "roles", "pace", "stands"}, rows)
	}
}

// BenchmarkBikeFile reads and writes a complete bike file.
func BenchmarkBikeFile(b *testing.B) {
	for b.Loop() {
		facts, problems := cli.ReadBike("b", []byte(cli.ExampleBike))
		if len(problems) > 0 {
			b.Fatal(problems)
		}
		cli.BikeFile(facts)
	}
}

// BenchmarkRoot builds the tree of commands, which every start does.
func BenchmarkRoot(b *testing.B) {
	for b.Loop() {
		cli.Root()
	}
}
