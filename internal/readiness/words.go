package readiness

import (
	"math"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	pb "gritward/proto/gritward/v1"
)

// notDeclared stands where a fact was not declared.
const notDeclared = "not declared"

// word is how a policy file writes an enum's value: lower case, with hyphens.
func word(value protoreflect.Enum) string {
	d := value.Descriptor().Values().ByNumber(value.Number())
	if d == nil {
		return strconv.Itoa(int(value.Number()))
	}
	return strings.ReplaceAll(strings.ToLower(string(d.Name())), "_", "-")
}

func endWord(end pb.End) string {
	if end == pb.End_FRONT {
		return "front"
	}
	return "rear"
}

// andList writes "a", "a and b", "a, b and c".
func andList(items []string) string { return list(items, " and ") }

// orList writes "a", "a or b", "a, b or c".
func orList(items []string) string { return list(items, " or ") }

func list(items []string, last string) string {
	if len(items) < 2 {
		return strings.Join(items, "")
	}
	return strings.Join(items[:len(items)-1], ", ") + last + items[len(items)-1]
}

// count writes "1 rear lamp", "2 rear lamps", "no rear lamp".
func count(n int, what string) string {
	var w words
	w.count(n, what)
	return w.b.String()
}

// atLeastMin writes minutes of a need: rounded up, so that what is shown is enough.
func atLeastMin(min float64) string {
	var w words
	w.atLeastMin(min)
	return w.b.String()
}

func (w *words) atLeastMin(min float64) { w.min(math.Ceil(min - tolerance)) }

// atMostMin writes minutes of what there is: rounded down, so that no more is shown than there is.
func (w *words) atMostMin(min float64) { w.min(math.Floor(min + tolerance)) }

func (w *words) min(min float64) {
	switch {
	case math.IsInf(min, 0):
		w.add("a time not known")
		return
	case math.Abs(min) < 1e9:
		w.whole(int(min))
	default:
		w.add(strconv.FormatFloat(min, 'f', 0, 64))
	}
	w.add(" min")
}

// decimal writes a number without needless digits.
func decimal(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// degrees writes a temperature to a tenth of a degree: "2 °C", "-1.5 °C".
func degrees(c float64) string { return decimal(math.Round(c*10)/10+0) + " °C" }
