package readiness

import (
	"strconv"
	"strings"
)

// words gathers the texts of one assessment in one piece, so that all of them cost one allocation or two. A text taken
// stays as it is when more words follow.
type words struct {
	b strings.Builder
	// The day written last: bikes have much done on one day.
	last     civilDay
	lastText string
	// How long lamps must last, and what those of each end do last, once written; see burn.forMinutes and lampEnd.declared.
	minutes   string
	lampTimes [3]string
}

func (w *words) len() int { return w.b.Len() }

// since is the text from a place on.
func (w *words) since(from int) string { return w.b.String()[from:] }

func (w *words) add(text string) { w.b.WriteString(text) }

// measure writes a number without needless digits, and its unit. Measures of bikes seldom have more than three decimals; those are
// written without the search for the shortest form that others need.
func (w *words) measure(x float64, unit string) {
	var room [40]byte
	thousandths := int(x * 1000)
	if x < 0 || x > 1e9 || float64(thousandths)/1000 != x {
		w.b.Write(append(strconv.AppendFloat(room[:0], x, 'f', -1, 64), unit...))
		return
	}
	text, part := strconv.AppendInt(room[:0], int64(thousandths/1000), 10), thousandths%1000
	if part > 0 {
		text = append(text, '.', byte('0'+part/100), byte('0'+part/10%10), byte('0'+part%10))
		for text[len(text)-1] == '0' {
			text = text[:len(text)-1]
		}
	}
	w.b.Write(append(text, unit...))
}

func (w *words) whole(n int) {
	var room [20]byte
	if n < 0 {
		w.b.Write(strconv.AppendInt(room[:0], int64(n), 10))
		return
	}
	at := len(room)
	for more := true; more; more = n > 0 {
		at--
		room[at] = byte('0' + n%10)
		n /= 10
	}
	w.b.Write(room[at:])
}

func (w *words) day(d civilDay) {
	if d == w.last && w.lastText != "" {
		w.add(w.lastText)
		return
	}
	var room [32]byte
	year, month, day := d.date()
	text := append(strconv.AppendInt(room[:0], int64(day), 10), ' ')
	text = append(append(text, month.String()...), ' ')
	from := w.len()
	w.b.Write(strconv.AppendInt(text, int64(year), 10))
	w.last, w.lastText = d, w.since(from)
}

// days writes "1 day", "22 days".
func (w *words) days(n int) {
	w.whole(n)
	if n == 1 {
		w.add(" day")
	} else {
		w.add(" days")
	}
}
