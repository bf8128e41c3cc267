package cli

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	"gritward/internal/names"
	"gritward/internal/strictyaml"
	pb "gritward/proto/gritward/v1"
)

// careFlags say what was done to a bike.
type careFlags struct {
	set                                      *pflag.FlagSet
	on, end, bearing, wear, thickness, ridKm string
	note, strikes, label                     string
}

func (a *app) careRecord() *cobra.Command {
	cmd := &cobra.Command{
		Use: "record BIKE WORK", Short: "Record work done or a measurement on your bike",
		Long: "WORK is one of\n" + columnsOf(workWords()) + "\n" +
			"A measurement newer than the declaration counts before it. What was recorded by mistake is struck out with\n" +
			"WORK struck-out and --strikes; nothing is ever taken away.",
		Example: "  gritward care record blue-winter-bike chain-measured --wear 0.4% --odometer 5230km\n" +
			"  gritward care record blue-winter-bike pads-measured --end rear --thickness 1.2mm --on 2026-12-06",
		Args: cobra.ExactArgs(2),
	}
	flags := &careFlags{set: cmd.Flags()}
	flags.set.StringVar(&flags.on, "on", "", "day on which it was done, YYYY-MM-DD (default today)")
	flags.set.StringVar(&flags.end, "end", "", "which end: front or rear")
	flags.set.StringVar(&flags.bearing, "bearing", "", "which bearing: "+strings.Join(bearingWords(), ", "))
	flags.set.StringVar(&flags.wear, "wear", "", "chain wear measured, %")
	flags.set.StringVar(&flags.thickness, "thickness", "", "thickness measured, mm")
	flags.set.StringVar(&flags.ridKm, "odometer", "", "odometer, km")
	flags.set.StringVar(&flags.label, "label", "", "which lamp, by the label of its declaration (default every one of the end)")
	flags.set.StringVar(&flags.note, "note", "", "in your own words, up to 500 characters")
	flags.set.StringVar(&flags.strikes, "strikes", "", "entry to strike out, as gritward care list shows it")
	again := flags.set.Bool("measured-again", false, "you measured again, and it is so, though it differs much from the last reading")
	return a.online(cmd, func(s *session, args []string) error {
		name, err := s.bikeName(args[0], "")
		if err != nil {
			return err
		}
		entry, err := flags.entry(args[1], name)
		if err != nil {
			return err
		}
		answer, err := s.bikes.RecordCare(s.ctx, &pb.RecordCareRequest{Parent: name, Entry: entry, RequestId: requestID(), MeasuredAgain: *again})
		if err != nil {
			return s.withBikes(err, name)
		}
		return a.answer(answer, func(p *page) {
			p.line("Recorded for %s: %s, %s. Entry %s.", s.shortBike(name), answer.GetDoneOn(), careWords(answer),
				names.Last(answer.GetName()))
			p.line("Next: gritward care due %s", s.shortBike(name))
		})
	})
}

// entry is what the flags say, about the bike of that resource name.
func (f *careFlags) entry(work, bike string) (entry *pb.CareEntry, err error) {
	entry = &pb.CareEntry{Note: f.note, Label: f.label}
	if entry.DoneOn, err = dateText("on", f.on); err != nil {
		return nil, err
	}
	workNumber, err := choiceOf("WORK", work, entry.Work.Descriptor())
	if err != nil {
		return nil, err
	}
	entry.Work = pb.CareEntry_Work(workNumber)
	end, err := choiceOf("--end", f.end, entry.End.Descriptor())
	if err != nil {
		return nil, err
	}
	entry.End = pb.End(end)
	bearing, err := choiceOf("--bearing", f.bearing, entry.Bearing.Descriptor())
	if err != nil {
		return nil, err
	}
	entry.Bearing = pb.CareEntry_Place(bearing)
	if f.strikes != "" {
		entry.Strikes = bike + "/care/" + f.strikes
	}
	return entry, f.amounts(entry)
}

func (f *careFlags) amounts(entry *pb.CareEntry) error {
	for _, amount := range []struct {
		flag, text, unit string
		into             **float64
	}{{"wear", f.wear, "%", &entry.WearPct}, {"thickness", f.thickness, "mm", &entry.ThicknessMm},
		{"odometer", f.ridKm, "km", &entry.OdometerKm}} {
		if !f.set.Changed(amount.flag) {
			continue
		}
		v, err := amountOf(amount.flag, amount.text, amount.unit)
		if err != nil {
			return err
		}
		*amount.into = proto.Float64(v)
	}
	return nil
}

// amountOf reads a number in a unit; the unit may be left out, but not be another.
func amountOf(flag, text, unit string) (float64, error) {
	v, err := finite(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(text), unit)))
	if err != nil {
		return 0, usagef("--%s %q is not an amount in %s; for example 1.2%s", flag, text, unit, unit)
	}
	return v, nil
}

// choiceOf reads a word of an enum; "" is its zero.
func choiceOf(what, text string, enum protoreflect.EnumDescriptor) (protoreflect.EnumNumber, error) {
	if text == "" && strings.HasPrefix(what, "--") {
		return 0, nil
	}
	for i := range enum.Values().Len() {
		if value := enum.Values().Get(i); value.Number() != 0 && strictyaml.Word(value) == text {
			return value.Number(), nil
		}
	}
	return 0, usagef("%s %q is none of %s", what, text, strings.Join(strictyaml.Words(enum), ", "))
}

func workWords() []string { return strictyaml.Words(pb.CareEntry_Work(0).Descriptor()) }

func bearingWords() []string { return strictyaml.Words(pb.CareEntry_Place(0).Descriptor()) }

// columnsOf lays words out in lines for a help text.
func columnsOf(words []string) string {
	var b strings.Builder
	length := 0
	for i, word := range words {
		if length > 80 {
			b.WriteString("\n")
			length = 0
		}
		if length == 0 {
			b.WriteString("  ")
		}
		if i < len(words)-1 {
			word += ", "
		}
		b.WriteString(word)
		length += len(word)
	}
	return b.String()
}
