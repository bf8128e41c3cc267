package web

// done says what a form did, on the page that comes after it, by the word that leads there. A page shows nothing that
// an address says: only the words here.
var done = map[string]string{
	"joined": "You are signed in on this device.",
}
