// Package lookalike tells whether two names can be taken for one another by eye: Cyrillic letters for Latin ones, a digit
// for a letter, letters that are not seen, accents.
package lookalike

import (
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

//go:embed confusables.txt
var table string

// confusables is the table, read once: each character that looks like others, with what stands for all of them.
var confusables = sync.OnceValue(func() map[rune]string {
	read, err := parse(table)
	if err != nil {
		panic(err) // it is part of the program, and held by a test
	}
	return read
})

// parse reads the table: lines "SOURCE;TARGET TARGET...", code points in hexadecimal; lines that begin with # are passed over.
func parse(text string) (map[rune]string, error) {
	read := map[rune]string{}
	for i, line := range strings.Split(strings.TrimSpace(text), "\n") {
		if strings.HasPrefix(line, "#") {
			continue
		}
		source, targets, cut := strings.Cut(line, ";")
		from, err := strconv.ParseInt(source, 16, 32)
		if !cut || err != nil {
			return nil, fmt.Errorf("line %d: %q is not a mapping", i+1, line)
		}
		var to strings.Builder
		for target := range strings.FieldsSeq(targets) {
			r, err := strconv.ParseInt(target, 16, 32)
			if err != nil {
				return nil, fmt.Errorf("line %d: %q is not a code point", i+1, target)
			}
			to.WriteRune(rune(r))
		}
		read[rune(from)] = to.String()
	}
	return read, nil
}

// Skeleton is what stands for all texts that look like this one: NFD, what is not seen left out, each character put as the
// table has it, NFD (Unicode Technical Standard #39, section 4, "skeleton" without the direction of writing).
func Skeleton(text string) string {
	var b strings.Builder
	for _, r := range norm.NFD.String(text) {
		if Unseen(r) {
			continue
		}
		if to, ok := confusables()[r]; ok {
			b.WriteString(to)
		} else {
			b.WriteRune(r)
		}
	}
	return norm.NFD.String(b.String())
}

// Unseen tells whether a character is not shown where it is not understood: Default_Ignorable_Code_Point of the Unicode
// Character Database. Go has the parts of which the database derives it: Other_Default_Ignorable_Code_Point, Cf and
// Variation_Selector, less white space, interlinear annotation, Egyptian format controls and prepended marks.
func Unseen(r rune) bool {
	if unicode.In(r, unicode.White_Space, unicode.Prepended_Concatenation_Mark) || r >= 0xFFF9 && r <= 0xFFFB || r >= 0x13430 && r <= 0x13440 {
		return false
	}
	return unicode.In(r, unicode.Cf, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector)
}

// Alike tells whether two names can be taken for one another: alike as they are written, or when neither capitals nor
// accents, gaps and compatibility forms count. A name without anything to see is like no other.
func Alike(a, b string) bool {
	seen, plain := Seen(a), Plain(a)
	return seen != "" && seen == Seen(b) || plain != "" && plain == Plain(b)
}

// Seen is a name by what it looks like as it is written, gaps apart.
func Seen(name string) string { return Skeleton(squeezed(name)) }

// Plain is a name by what it looks like when neither capitals nor accents, gaps and compatibility forms count. Folding comes
// on both sides of the skeleton: the table puts a capital for a digit.
func Plain(name string) string {
	fold := cases.Fold()
	looks := Skeleton(fold.String(Skeleton(fold.String(norm.NFKC.String(squeezed(name))))))
	return strings.Map(func(r rune) rune {
		if unicode.In(r, unicode.Mn, unicode.Me) {
			return -1
		}
		return r
	}, fold.String(looks))
}

// squeezed is a name without its gaps.
func squeezed(name string) string { return strings.Join(strings.Fields(name), "") }
