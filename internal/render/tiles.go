package render

import (
	"math"
	"strconv"
	"strings"
)

// Tiles are pictures of the ground from a server of map tiles, in the numbering that such servers share: zoom, column from the
// west, row from the north, each tile 256 pixels wide at a zoom of 2 to its power across the world (OpenStreetMap wiki, "Slippy
// map tilenames").
type Tiles struct {
	// Address has {z}, {x} and {y} where these stand; empty: none are shown.
	Address string
	// Credit names whose they are.
	Credit string
}

const (
	// tileShown is how wide a map is shown about, in pixels: tiles are as sharp as that needs.
	tileShown = 640
	// mostTiles is how many a map may take.
	mostTiles = 30
	maxZoom   = 17
)

// tile is one of them, laid out.
type tile struct {
	URL        string
	X, Y, Side px
}

// cover are the tiles under a map.
func (t Tiles) cover(f flat) []tile {
	zoom := int(math.Round(math.Log2(f.unit / float64(mapWidth) * tileShown / 256)))
	zoom = max(0, min(zoom, maxZoom))
	for ; zoom >= 0; zoom-- {
		across := math.Pow(2, float64(zoom))
		left, right := int(math.Floor(f.x0*across)), int(math.Floor((f.x0+float64(mapWidth)/f.unit)*across))
		top, bottom := int(math.Floor(f.y0*across)), int(math.Floor((f.y0+float64(f.height)/f.unit)*across))
		top, bottom = max(top, 0), min(bottom, int(across)-1)
		if (right-left+1)*(bottom-top+1) > mostTiles {
			continue
		}
		var out []tile
		for x := left; x <= right; x++ {
			for y := top; y <= bottom; y++ {
				column := ((x % int(across)) + int(across)) % int(across)
				url := strings.NewReplacer("{z}", strconv.Itoa(zoom), "{x}", strconv.Itoa(column), "{y}", strconv.Itoa(y)).Replace(t.Address)
				out = append(out, tile{url, px((float64(x)/across - f.x0) * f.unit), px((float64(y)/across - f.y0) * f.unit), px(f.unit / across)})
			}
		}
		return out
	}
	return nil
}
