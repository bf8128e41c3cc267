package render_test

import (
	"image"
	"image/color"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// decode reads a QR code with a decoder that shares no code with what draws it.
func decode(t *testing.T, picture image.Image) string {
	t.Helper()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		t.Fatal(err)
	}
	found, err := qrcode.NewQRCodeReader().Decode(bitmap, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	if err != nil {
		t.Fatalf("no code is read: %v", err)
	}
	return found.GetText()
}

var (
	codeBox  = regexp.MustCompile(`<svg class="code"[^>]*viewBox="0 0 (\d+) \d+".*?<path d="([^"]*)"`)
	codeMove = regexp.MustCompile(`M(\d+) (\d+)h(\d+)v1h-\d+z`)
)

// picture fills the squares of a page's code, each of some pixels.
func picture(t *testing.T, page string) image.Image {
	t.Helper()
	found := codeBox.FindStringSubmatch(page)
	if found == nil {
		t.Fatal("the page has no code")
	}
	const scale = 4
	side, _ := strconv.Atoi(found[1])
	img := image.NewGray(image.Rect(0, 0, side*scale, side*scale))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, m := range codeMove.FindAllStringSubmatch(found[2], -1) {
		x, _ := strconv.Atoi(m[1])
		y, _ := strconv.Atoi(m[2])
		long, _ := strconv.Atoi(m[3])
		for py := y * scale; py < (y+1)*scale; py++ {
			for px := x * scale; px < (x+long)*scale; px++ {
				img.SetGray(px, py, color.Gray{})
			}
		}
	}
	return img
}

func TestPageCode(t *testing.T) {
	for _, address := range []string{pageURL, "https://a.example/clubs/c/rides/r/rosters/1", "https://rides.example/" + strings.Repeat("x", 270)} {
		r := issue(t, "winter-run")
		r.PageUrl = address
		if got := decode(t, picture(t, html(t, r))); got != address {
			t.Errorf("the page's code opens %q, want %q", got, address)
		}
	}
}

// TestNoCode: without an address, or with one too long, there is no code, and nothing says that there is.
func TestNoCode(t *testing.T) {
	for _, address := range []string{"", "https://rides.example/" + strings.Repeat("x", 300)} {
		r := issue(t, "winter-run")
		r.PageUrl = address
		page := html(t, r)
		if codeBox.MatchString(page) || strings.Contains(page, "Code that opens") {
			t.Errorf("%.30q: the page has a code", address)
		}
	}
}
