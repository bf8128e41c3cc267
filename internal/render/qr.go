package render

import (
	"fmt"
	"image/color"
	"strings"

	"github.com/boombuler/barcode/qr"
)

// longestAddress is the longest address that gets a code, in bytes: an address of pages with the name of an issue is shorter,
// and a longer one's squares would be too fine for a creased sheet.
const longestAddress = 300

// modules are the dark squares of the QR code (ISO/IEC 18004) of an address, row by row; nil for no address, and for one too
// long. Level M: 15 % of a code may be unreadable.
func modules(address string) [][]bool {
	if address == "" || len(address) > longestAddress {
		return nil
	}
	code, err := qr.Encode(address, qr.M, qr.Auto)
	if err != nil {
		return nil
	}
	side := code.Bounds().Dx()
	rows := make([][]bool, side)
	for y := range rows {
		rows[y] = make([]bool, side)
		for x := range rows[y] {
			rows[y][x] = code.At(x, y) == color.Black
		}
	}
	return rows
}

// quiet is the margin that a reader needs around a code, in squares.
const quiet = 4

// Code is the QR code of an address as a page draws it, in squares: a path of dark ones on a light square of Side by Side.
type Code struct {
	Side int // with its margin
	Path string
	URL  string
}

// CodeOf draws the code of an address; nil for no address, and for one too long.
func CodeOf(address string) *Code {
	rows := modules(address)
	if rows == nil {
		return nil
	}
	var path strings.Builder
	for y, row := range rows {
		for x := 0; x < len(row); x++ {
			long := 0
			for x+long < len(row) && row[x+long] {
				long++
			}
			if long > 0 {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", x+quiet, y+quiet, long, long)
				x += long
			}
		}
	}
	return &Code{Side: len(rows) + 2*quiet, Path: path.String(), URL: address}
}

// drawCode draws the QR code of the roster's page into a square, without its margin.
func (p *paper) drawCode(x, y, side float64) {
	unit := side / float64(len(p.code))
	for i, row := range p.code {
		for j := 0; j < len(row); j++ {
			long := 0
			for j+long < len(row) && row[j+long] {
				long++
			}
			if long > 0 {
				// A trace of overlap, so that no hairline shows between rows.
				p.pdf.Rect(x+float64(j)*unit, y+float64(i)*unit, float64(long)*unit, unit*1.02, "F")
				j += long
			}
		}
	}
}
