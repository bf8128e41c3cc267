package strictyaml

import (
	"time"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// example is an amount in the unit that the field takes, for hints.
func example(field protoreflect.FieldDescriptor, unit string) string {
	low, high, bounded := spread(field)
	if unit == "min" {
		return "90min, 90m or 1h30m"
	}
	usual := map[string]float64{"mm": 28, "%": 0.5, "km/h": 70, "C": -8, "m": 100, "km": 12000, "lm": 200, "cd": 4}
	amount, ok := usual[unit]
	if !ok {
		amount = 1
	}
	if bounded && (amount < low || amount > high) {
		amount = (low + high) / 2
	}
	return formatNumber(amount, unit)
}

// exampleSpan is a span of time that the field takes, for hints.
func exampleSpan(field protoreflect.FieldDescriptor) string {
	switch low, high, bounded := spread(field); {
	case bounded && low >= (24*time.Hour).Seconds():
		return "28d"
	case bounded && high < (24*time.Hour).Seconds():
		return "30m or 1h30m"
	default:
		return "30m, 1h30m or 28d"
	}
}
