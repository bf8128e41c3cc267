package strictyaml

import (
	"math"
	"strconv"
	"strings"
)

// rangePattern matches decimal numbers, as plainNumber reads them, from low to high. Ends that are not whole are rounded
// outwards: the reader is exact.
func rangePattern(low, high float64) string {
	var parts []string
	if low < 0 {
		parts = append(parts, "-"+upwards(0, int(math.Ceil(-low))))
	} else if low == 0 {
		parts = append(parts, `-0(\.0+)?`)
	}
	if high >= 0 {
		parts = append(parts, upwards(int(math.Floor(max(low, 0))), int(math.Ceil(high))))
	}
	return "(" + strings.Join(parts, "|") + ")"
}

// upwards matches decimal numbers from low to high, both whole and not negative.
func upwards(low, high int) string {
	top := strconv.Itoa(high) + `(\.0+)?`
	if low >= high {
		return top
	}
	return "((" + strings.Join(wholeNumbers(low, high-1), "|") + `)(\.[0-9]+)?|` + top + ")"
}

// wholeNumbers gives patterns that together match the whole numbers from low to high: the range is cut where all later
// digits run from 0 to 9.
func wholeNumbers(low, high int) []string {
	var patterns []string
	for low <= high {
		end := low
		for step := 10; ; step *= 10 { // as many free digits at the end as fit
			next := low - low%step + step - 1
			if low%step != 0 || next > high || len(strconv.Itoa(next)) != len(strconv.Itoa(low)) {
				break
			}
			end = next
		}
		// Then let the digit before them run as far as it can.
		free := end - low + 1
		for end%(10*free) != 10*free-1 && end+free <= high && len(strconv.Itoa(end+free)) == len(strconv.Itoa(low)) {
			end += free
		}
		patterns = append(patterns, digits(low, end))
		low = end + 1
	}
	return patterns
}

// digits matches the whole numbers between two of the same length, of which each digit stands alone.
func digits(low, high int) string {
	a, b := strconv.Itoa(low), strconv.Itoa(high)
	var p strings.Builder
	for i := range len(a) {
		if a[i] == b[i] {
			p.WriteByte(a[i])
		} else {
			p.WriteString("[" + a[i:i+1] + "-" + b[i:i+1] + "]")
		}
	}
	return p.String()
}
