package strictyaml

import (
	"strconv"
	"strings"
	"unicode"

	pb "gritward/proto/gritward/v1"
)

// Spot is a place in a text: line and column from 1, in characters.
type Spot struct{ Line, Column int }

// ProblemIn makes an error at a spot within a text that is the path's value.
func (p *Positions) ProblemIn(path, text string, at Spot, message, hint string) *pb.Problem {
	in := p.Within(path, text, at)
	problem := p.problemAt(in.Line, in.Column, path, message, hint)
	problem.Excerpt = p.excerpt(in.Line, in.Column)
	return problem
}

// Within tells where in the file a spot of a text stands, the text being the path's value. It holds for every way of
// writing a text, plain, quoted or as a block, over as many lines as there are: in all of them the characters that are
// not blank stand in the file in the order of the text. Where file and text do not go together it is the place of At.
func (p *Positions) Within(path, text string, at Spot) Spot {
	line, column := p.At(path)
	value, ok := p.places[path]
	if !ok {
		return Spot{line, column}
	}
	before, all := visible(text, at), visible(text, Spot{Line: 1 << 30})
	found, n := Spot{line, column}, 0
	p.characters(value, func(spot Spot) bool {
		n++
		found = spot
		return n <= before && n < all
	})
	switch {
	case n == before+1:
		return found
	case n == all && n > 0:
		return Spot{found.Line, found.Column + 1} // the end of the text
	default:
		return Spot{line, column}
	}
}

// visible counts the characters of a text before a spot that are not blank.
func visible(text string, at Spot) int {
	n := 0
	for i, line := range strings.Split(text, "\n") {
		if i+1 > at.Line {
			break
		}
		for j, r := range []rune(line) {
			if i+1 == at.Line && j+1 >= at.Column {
				break
			}
			if !unicode.IsSpace(r) {
				n++
			}
		}
	}
	return n
}

// characters yields where those characters of a value stand that are not blank. A plain or a block value has no end
// here: what follows it in the file is yielded, too.
func (p *Positions) characters(value place, yield func(Spot) bool) {
	line, column := value.line-1, value.column-1
	quote := rune(0)
	for ; line < len(p.lines); line, column = line+1, 0 {
		runes := []rune(strings.TrimPrefix(p.lines[line], "\ufeff"))
		if line == value.line-1 && column < len(runes) {
			switch runes[column] {
			case '|', '>':
				continue
			case '"', '\'':
				quote = runes[column]
				column++
			}
		}
		for column < len(runes) {
			length, blank, end := measure(runes[column:], quote)
			if end || !blank && !yield(Spot{line + 1, column + 1}) {
				return
			}
			column += length
		}
	}
}

// measure gives the length of one character as it is written within quotes, and tells whether it is blank, or the end of the value.
func measure(runes []rune, quote rune) (length int, blank, end bool) {
	first, second := runes[0], rune('\n')
	if len(runes) > 1 {
		second = runes[1]
	}
	switch {
	case quote == '\'' && first == '\'' && second == '\'':
		return 2, false, false
	case quote != 0 && first == quote:
		return 1, false, true
	case quote == '"' && first == '\\':
		length = map[rune]int{'x': 4, 'u': 6, 'U': 10}[second]
		if length > 0 && length <= len(runes) {
			code, _ := strconv.ParseInt(string(runes[2:length]), 16, 32)
			return length, unicode.IsSpace(rune(code)), false
		}
		return 2, strings.ContainsRune("ntr fvNLP_\n", second), false
	default:
		return 1, unicode.IsSpace(first), false
	}
}
