package settings

import (
	"net/url"
	"strings"
)

// maxPagesAddress is the longest address of pages, in bytes: with the name of an issue behind it, its code on paper stays
// coarse enough for a telephone.
const maxPagesAddress = 100

// wrongPages says what is wrong with the address of the pages.
func (m merged) wrongPages(s Server) Problems {
	if s.PagesAddress == "" {
		return nil
	}
	const example = "for example https://rides.example"
	at, err := url.Parse(s.PagesAddress)
	switch {
	case err != nil || at.Scheme != "https" || at.Host == "" || at.Opaque != "":
		return Problems{m.problem("pages_address", "is not an https address; write it as browsers show it, %s", example)}
	case at.User != nil || at.RawQuery != "" || at.ForceQuery || at.Fragment != "" || strings.HasSuffix(s.PagesAddress, "/"):
		return Problems{m.problem("pages_address", "must be host and path only, without / at the end, %s", example)}
	case len(s.PagesAddress) > maxPagesAddress:
		return Problems{m.problem("pages_address", "is longer than %d bytes", maxPagesAddress)}
	}
	return nil
}
