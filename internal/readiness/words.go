package readiness

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	pb "gritward/proto/gritward/v1"
)

// notDeclared stands where a fact was not declared.
const notDeclared = "not declared"

// remedy joins what to do with what holds until then.
func remedy(todo []string, otherwise pb.Rule_Consequence) string {
	until := "Until then the bike does not start in this group."
	switch otherwise {
	case pb.Rule_ADVISE:
		until = "This is advice: the bike may ride anywhere in the group."
	case pb.Rule_BACK:
		until = "Until then ride at the back of the group."
	}
	return strings.Join(append(todo, until), " ")
}

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
	switch n {
	case 0:
		return "no " + what
	case 1:
		return "1 " + what
	default:
		return fmt.Sprintf("%d %ss", n, what)
	}
}

// atLeastMin writes minutes of a need: rounded up, so that what is shown is enough.
func atLeastMin(min float64) string { return wholeMin(math.Ceil(min - tolerance)) }

// atMostMin writes minutes of what there is: rounded down, so that no more is shown than there is.
func atMostMin(min float64) string { return wholeMin(math.Floor(min + tolerance)) }

func wholeMin(min float64) string {
	if math.IsInf(min, 0) {
		return "a time not known"
	}
	return strconv.FormatFloat(min, 'f', 0, 64) + " min"
}

// decimal writes a number without needless digits.
func decimal(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// degrees writes a temperature to a tenth of a degree: "2 °C", "-1.5 °C".
func degrees(c float64) string { return decimal(math.Round(c*10)/10+0) + " °C" }
