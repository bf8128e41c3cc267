// Package transport secures the way between client and server: TLS 1.3, and nothing older. The server shows a certificate
// from files, from an authority of its own, or from an authority that it asks by ACME (RFC 8555); the client trusts the
// authority whose pin it was handed, or else those of the system or of a file.
//
// The own authority needs nothing from outside: the server makes its key at the first start, and signs with it
// certificates that live 90 days. What a client has to know is the pin of that key, which travels in the invite.
package transport
