package transport_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gritward/internal/transport"
)

const (
	code = "marrowdale.ABCDEFGHIJKLMNOPQRSTUVWXYZ234567ABCDEFGHIJKLMNOPQRST"
	pinA = "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"
	pinB = "-_BCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmno8"
)

func TestParseInvite(t *testing.T) {
	for _, text := range []string{code, "rides.example:7347/" + code, "[2001:db8::7]:7347/" + code + "/" + pinA, "192.0.2.7:1/" + code + "/" + pinA + "," + pinB} {
		got, err := transport.ParseInvite(text)
		if err != nil || got.String() != text {
			t.Errorf("%s: %v, %v", text, got, err)
		}
	}
	broken := " rides.example:7347/" + code[:20] + "\r\n  " + code[20:] + "/" + pinA + "\n"
	if got, err := transport.ParseInvite(broken); err != nil || got.Code != code || len(got.Pins) != 1 {
		t.Errorf("broken by a mail program: %v, %v", got, err)
	}
}

func TestParseInviteRefused(t *testing.T) {
	whole := "rides.example:7347/" + code + "/" + pinA
	tests := []struct{ name, text, want string }{
		{"empty", " \n", "is empty"},
		{"pin cut short", whole[:len(whole)-1], "it was cut short or changed"},
		{"pin cut away", whole[:len(whole)-len(pinA)], "it was cut short or changed"},
		{"pin too long", whole + "A", "it was cut short or changed"},
		{"second pin cut away", whole + ",", "it was cut short or changed"},
		{"the same pin twice", whole + "," + pinA, "twice"},
		{"three pins", whole + "," + pinB + "," + pinB, "more than two pins"},
		{"letters of no pin", whole[:len(whole)-1] + "=", "it was cut short or changed"},
		{"bits that no pin has", whole[:len(whole)-1] + "B", "it was cut short or changed"},
		{"no code", "rides.example:7347//" + pinA, "has no code"},
		{"no port", "rides.example/" + code + "/" + pinA, "does not begin with the address"},
		{"port zero", "rides.example:0/" + code, "does not begin with the address"},
		{"no host", ":7347/" + code, "does not begin with the address"},
		{"beginning cut away", "/" + code + "/" + pinA, "does not begin with the address"},
		{"an address of the web", "https://rides.example/" + code + "/" + pinA, "more parts"},
		{"huge", strings.Repeat("A", 1<<20), "longer than any invite"},
		{"control characters", "rides.example:7347/\x1b[31m" + code, "characters that no invite has"},
		{"right to left", "rides.example:7347/\u202e" + code, "characters that no invite has"},
		{"other letters", "rides.exämple:7347/" + code, "characters that no invite has"},
		{"not UTF-8", "rides.example:7347/\xff" + code, "characters that no invite has"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, err := transport.ParseInvite(test.text)
			if err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("got %v, %v; want %q", got, err, test.want)
			}
			if err != nil && strings.Contains(err.Error(), "ABCDEFGH") {
				t.Errorf("the code is told: %v", err)
			}
		})
	}
}

// TestInviteRoundTrip: what is made is read as it was, whatever the pins.
func TestInviteRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		invite := transport.Invite{Address: rapid.SampledFrom([]string{"rides.example:7347", "[::1]:1", "192.0.2.7:65535"}).Draw(t, "address"), Code: code}
		for range rapid.IntRange(0, 2).Draw(t, "pins") {
			invite.Pins = append(invite.Pins, transport.Pin(rapid.SliceOfN(rapid.Byte(), 32, 32).Draw(t, "pin")))
		}
		if len(invite.Pins) == 2 && invite.Pins[0] == invite.Pins[1] {
			invite.Pins = invite.Pins[:1]
		}
		got, err := transport.ParseInvite(invite.String())
		if err != nil || got.String() != invite.String() || len(got.Pins) != len(invite.Pins) {
			t.Fatalf("%s: %v, %v", invite, got, err)
		}
	})
}

func TestForShell(t *testing.T) {
	for word, want := range map[string]string{"a.example:1/b": "a.example:1/b", "[::1]:1/b": "'[::1]:1/b'",
		"my ride.gpx": "'my ride.gpx'", "Osric's.gpx": `'Osric'\''s.gpx'`, "ways/sunday.gpx": "ways/sunday.gpx"} {
		if got := transport.ForShell(word); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
}

func FuzzParseInvite(f *testing.F) {
	for _, seed := range []string{code, "a:1/b/" + pinA, "a:1/b/" + pinA + "," + pinB, "[::1]:1/b", "a:1//", "///", "a:1/b/\x00"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		invite, err := transport.ParseInvite(text)
		if err != nil {
			return
		}
		again, err := transport.ParseInvite(invite.String())
		if err != nil || again.String() != invite.String() {
			t.Errorf("%q was taken as %q, which is read as %q, %v", text, invite, again, err)
		}
		if invite.Address == "" && len(invite.Pins) > 0 || invite.Code == "" {
			t.Errorf("%q was taken as half an invite: %+v", text, invite)
		}
	})
}
