package web

import "net/url"

// query is the part of an address after "?": names and values in turn, those without a value left out.
func query(pairs ...string) string {
	values := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			values.Set(pairs[i], pairs[i+1])
		}
	}
	return values.Encode()
}
