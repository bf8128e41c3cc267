package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"gritward/internal/fault"
	pb "gritward/proto/gritward/v1"
)

// cookieAge is for how long a browser keeps who it is: the longest that browsers agree to (draft-ietf-httpbis-rfc6265bis,
// section 5.6.7). The device ends sooner where the club's policy says so, or its member or a secretary shuts it out.
const cookieAge = 400 * 24 * time.Hour

// cookieName is that of the cookie. The prefix has browsers refuse it from anywhere but this host over TLS
// (draft-ietf-httpbis-rfc6265bis, section 4.1.3).
func (s *site) cookieName() string {
	if s.secure {
		return "__Host-gritward"
	}
	return "gritward"
}

// token is that of the device from which a request comes; "" where none is signed in.
func (s *site) token(r *http.Request) string {
	cookie, err := r.Cookie(s.cookieName())
	if err != nil || strings.ContainsFunc(cookie.Value, func(c rune) bool { return c <= ' ' || c > '~' }) {
		return ""
	}
	return cookie.Value
}

// keep has the browser keep a device's token; with "" it forgets it.
func (s *site) keep(w http.ResponseWriter, token string) {
	age := int(cookieAge.Seconds())
	if token == "" {
		age = -1
	}
	http.SetCookie(w, &http.Cookie{Name: s.cookieName(), Value: token, Path: "/", MaxAge: age,
		Secure: s.secure, HttpOnly: true, SameSite: http.SameSiteLaxMode})
}

func (s *site) entranceRoutes() {
	s.mux.HandleFunc("GET /join/{code}", s.invited)
	s.mux.HandleFunc("POST /join", s.join)
	s.take("/leave", (*visit).leave)
}

// entry is what the page asks that lets a device in.
type entry struct {
	Code, Device string
	// Then is where to go on, and Kept what was typed there before it turned out that nobody is signed in.
	Then string
	Kept []kept
	// Sent: it was a form, also where nothing was to be typed in it.
	Sent bool
	// File: a file was chosen there too, which a page cannot keep.
	File bool
}

// kept is one field of a form that is sent again.
type kept struct{ Name, Value string }

// invited shows who opened the link of an invite what to do. The invite is used by the button, not by the link: mail
// programs and messengers open links before people do.
func (s *site) invited(w http.ResponseWriter, r *http.Request) {
	v := s.visitOf(w, r)
	v.put(http.StatusOK, "join", "Join your club", entry{Code: r.PathValue("code"), Device: deviceOf(r), Then: "/"})
}

// join uses an invite and signs the device in.
func (s *site) join(w http.ResponseWriter, r *http.Request) {
	v := s.visitOf(w, r)
	if err := v.read(false); err != nil {
		v.fail(err)
		return
	}
	form := v.form()
	legible(form)
	asked := entry{Code: codeIn(form.Get("code")), Device: form.Get("device"), Then: inside(form.Get("then")), Sent: form.Get("sent") == "true"}
	for name, values := range form {
		if path, ok := strings.CutPrefix(name, "kept."); ok {
			for _, value := range values {
				asked.Kept = append(asked.Kept, kept{path, value})
			}
		}
	}
	let, err := s.clubs.AcceptInvite(v.ctx, &pb.AcceptInviteRequest{Code: asked.Code, DeviceTitle: asked.Device})
	if err != nil {
		v.refuse(err, "join", "Join your club", asked)
		return
	}
	s.keep(w, let.Token)
	v.nobody = true // as far as this page knows: the next one knows who
	if asked.Sent || len(asked.Kept) > 0 {
		v.put(http.StatusOK, "again", "You are signed in", asked)
		return
	}
	_ = v.to(asked.Then, "joined")
}

// leave signs this device out, and shuts it out: its token is good no more.
func (v *visit) leave() error {
	if _, err := v.clubs.RevokeDevice(v.ctx, &pb.RevokeDeviceRequest{Name: v.who.Device.Name}); err != nil {
		return err
	}
	v.forget()
	v.put(http.StatusOK, "left", "Signed out", nil)
	return nil
}

// forget has the browser forget who was here, and the pages that it was shown (Clear Site Data, section 3.1): nobody goes back to
// them. Storage stays, for marks of the start line that are not sent yet.
func (v *visit) forget() {
	v.keep(v.w, "")
	v.w.Header().Set("Clear-Site-Data", `"cache"`)
	v.who, v.nobody = nil, true
}

// askIn asks for an invite where nobody is signed in, and keeps what was typed. Why is what the server said; nil when
// nothing was signed in.
func (v *visit) askIn(why error) {
	v.nobody = true
	asked := entry{Device: deviceOf(v.r), Then: v.r.URL.RequestURI()}
	if v.r.Method == http.MethodPost {
		asked.Then, asked.Sent = v.r.URL.Path, true
		for _, name := range sortedKeys(v.form()) {
			for _, value := range v.form()[name] {
				asked.Kept = append(asked.Kept, kept{name, value})
			}
		}
		asked.File = len(v.uploads) > 0
	}
	if why != nil {
		v.keep(v.w, "") // asking again with it would count as one more bad try
		v.fill(http.StatusUnauthorized, "join", "Sign in", asked, fault.Read(why))
		return
	}
	v.put(http.StatusUnauthorized, "join", "Sign in", asked)
}

func sortedKeys(values url.Values) []string {
	keys := make([]string, 0, len(values))
	for key := range values {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	return keys
}

// codeIn finds the code in what was pasted: the code, the word that a secretary handed over, or the link.
func codeIn(pasted string) string {
	pasted = strings.Join(strings.Fields(pasted), "")
	if _, code, found := strings.Cut(pasted, "/join/"); found {
		return code
	}
	if parts := strings.Split(pasted, "/"); len(parts) > 1 {
		return parts[1] // address/code/pins
	}
	return pasted
}

// inside is a path of these pages; "/" for anything else, so that nobody is led elsewhere.
func inside(path string) string {
	at, err := url.Parse(path)
	if err != nil || at.IsAbs() || at.Host != "" || !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") || strings.Contains(path, "\\") {
		return "/"
	}
	return path
}

// deviceOf proposes what to call the device: by the system that its browser names.
func deviceOf(r *http.Request) string {
	agent := r.UserAgent()
	for _, known := range []struct{ sign, title string }{
		{"Android", "Android phone"}, {"iPhone", "iPhone"}, {"iPad", "iPad"}, {"Windows", "Windows computer"},
		{"Macintosh", "Mac"}, {"Linux", "Linux computer"},
	} {
		if strings.Contains(agent, known.sign) {
			return known.title
		}
	}
	return "this browser"
}
