package cli

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	"gritward/internal/strictyaml"
)

// word is an enum value as files and people write it: "called-off". A value that is not stated is "".
func word(value protoreflect.Enum) string {
	known := value.Descriptor().Values().ByNumber(value.Number())
	switch {
	case value.Number() == 0:
		return ""
	case known == nil: // of a later release of the server
		return fmt.Sprint(value.Number())
	}
	return strictyaml.Word(known)
}

// words joins enum values with commas.
func words[E protoreflect.Enum](values []E) string {
	list := make([]string, len(values))
	for i, value := range values {
		list[i] = word(value)
	}
	return strings.Join(list, ", ")
}

// when tells an instant to the minute in the zone; "" when there is none.
func when(at *timestamppb.Timestamp, zone *time.Location) string {
	if at == nil {
		return ""
	}
	return at.AsTime().In(zone).Format("Mon 2 Jan 2006 15:04")
}

// day tells the civil date of an instant in the zone; "" when there is none.
func day(at *timestamppb.Timestamp, zone *time.Location) string {
	if at == nil {
		return ""
	}
	return at.AsTime().In(zone).Format(time.DateOnly)
}

// age tells how many whole days have passed since; "" when there is no instant.
func age(at *timestamppb.Timestamp, now time.Time) string {
	if at == nil {
		return ""
	}
	return count(max(0, int(now.Sub(at.AsTime()).Hours()/24)), "day", "days") // clocks may differ
}

// km tells a distance in kilometres to a tenth.
func km(distanceM float64) string { return strconv.FormatFloat(distanceM/1000, 'f', 1, 64) + " km" }

// number tells a number as short as it can be without losing any of it.
func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// yes is "yes" or nothing.
func yes(v bool) string {
	if v {
		return "yes"
	}
	return ""
}

// finite reads a decimal number; not a number and infinity are none.
func finite(text string) (float64, error) {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(text, "xX_") {
		return 0, fmt.Errorf("%q is not a number", text)
	}
	return v, nil
}

// metresOf reads kilometres and gives metres.
func metresOf(text string) (float64, error) {
	v, err := finite(text)
	if err != nil || math.IsInf(1000*v, 0) {
		return 0, fmt.Errorf("%q is not a distance in km", text)
	}
	return 1000 * v, nil
}
