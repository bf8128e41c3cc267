package web

import (
	"net/http"
	"net/url"
	"strings"
	"unicode/utf8"
)

// legible has every value of a form be UTF-8, as what goes to the server must be: what is not becomes U+FFFD.
func legible(form url.Values) {
	for _, values := range form {
		for i, value := range values {
			values[i] = strings.ToValidUTF8(value, "\uFFFD")
		}
	}
}

// legibleAddress tells whether an address is written in UTF-8.
func legibleAddress(r *http.Request) bool {
	query, err := url.QueryUnescape(r.URL.RawQuery)
	return err == nil && utf8.ValidString(r.URL.Path) && utf8.ValidString(query)
}
