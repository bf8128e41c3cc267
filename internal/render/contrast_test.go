package render_test

import (
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// luminance and contrast are the definitions of relative luminance and contrast ratio in WCAG 2.2.
func luminance(t *testing.T, hex string) float64 {
	if len(hex) == 3 {
		hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
	}
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil || len(hex) != 6 {
		t.Fatalf("colour %q", hex)
	}
	channel := func(v uint64) float64 {
		c := float64(v&255) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(n>>16) + 0.7152*channel(n>>8) + 0.0722*channel(n)
}

func contrast(t *testing.T, a, b string) float64 {
	la, lb := luminance(t, a), luminance(t, b)
	return (max(la, lb) + 0.05) / (min(la, lb) + 0.05)
}

// TestContrast holds text against its ground at level AA (4.5:1, WCAG 2.2 criterion 1.4.3), in light, dark and print.
func TestContrast(t *testing.T) {
	// The published bounds of the scale.
	if c := contrast(t, "000000", "ffffff"); math.Abs(c-21) > 1e-9 {
		t.Fatalf("black on white is %v, want 21", c)
	}
	css, err := os.ReadFile("templates/page.css")
	if err != nil {
		t.Fatal(err)
	}
	schemes := regexp.MustCompile(`:root \{([^}]*)\}`).FindAllStringSubmatch(string(css), -1)
	if len(schemes) != 3 {
		t.Fatalf("the style sheet has %d sets of colours, want light, dark and print", len(schemes))
	}
	for _, scheme := range schemes {
		colour := map[string]string{}
		for _, m := range regexp.MustCompile(`--(\w+): #(\w+)`).FindAllStringSubmatch(scheme[1], -1) {
			colour[m[1]] = m[2]
		}
		for _, on := range []string{"paper", "tint"} {
			for _, text := range []string{"ink", "soft", "accent"} {
				if c := contrast(t, colour[text], colour[on]); c < 4.5 {
					t.Errorf("%s on %s is %.2f:1 in %s", text, on, c, strings.TrimSpace(scheme[1]))
				}
			}
		}
	}
	for _, ground := range []string{"ffffff", "dfe1e4", "bcc1c9"} { // the picture's skies, with their words on them
		if c := contrast(t, "1d1b18", ground); c < 4.5 {
			t.Errorf("words on the sky #%s have %.2f:1", ground, c)
		}
	}
}
