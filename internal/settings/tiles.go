package settings

import (
	"net/url"
	"strings"
	"unicode/utf8"
)

// maxCredit is the longest credit of map tiles, in characters: it stands in one line under the map.
const maxCredit = 200

// wrongTiles says what is wrong with the address of map tiles. Its host stands as it is in the content security policy of
// pages, so that nothing else may stand there.
func (m merged) wrongTiles(s Server) Problems {
	const example = "for example https://tiles.example/{z}/{x}/{y}.png"
	if s.TilesAddress == "" {
		if s.TilesCredit != "" {
			return Problems{m.problem("tiles_credit", "says whose the map tiles are, and there are none: say with tiles_address where they are, %s", example)}
		}
		return nil
	}
	at, err := url.Parse(strings.NewReplacer("{z}", "1", "{x}", "1", "{y}", "1").Replace(s.TilesAddress))
	switch {
	case err != nil || at.Scheme != "https" || at.Hostname() == "" || at.User != nil || at.Opaque != "" || at.Fragment != "" ||
		strings.ContainsFunc(at.Host, func(c rune) bool { return !strings.ContainsRune("abcdefghijklmnopqrstuvwxyz0123456789.-:[]", c) }):
		return Problems{m.problem("tiles_address", "is not an https address, its host in lower case; write it %s", example)}
	case strings.ContainsAny(strings.TrimPrefix(s.TilesAddress, "https://"+at.Host), " \t\"'<>\\") || !strings.HasPrefix(s.TilesAddress, "https://"+at.Host+"/"):
		return Problems{m.problem("tiles_address", "has a character that an address has not, or a {z}, {x} or {y} in its host; write it %s", example)}
	case !strings.Contains(s.TilesAddress, "{z}") || !strings.Contains(s.TilesAddress, "{x}") || !strings.Contains(s.TilesAddress, "{y}"):
		return Problems{m.problem("tiles_address", "has not {z}, {x} and {y}; write it %s", example)}
	case strings.TrimSpace(s.TilesCredit) == "":
		return Problems{m.problem("tiles_address", "needs tiles_credit: say whose the tiles are")}
	case utf8.RuneCountInString(s.TilesCredit) > maxCredit:
		return Problems{m.problem("tiles_credit", "is longer than %d characters", maxCredit)}
	}
	return nil
}
