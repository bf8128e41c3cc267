package server_test

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"strings"

	rules "buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
)

// draw makes choices from the bytes of a fuzz input, and where they end from a generator that begins with their digest: so that
// the same input always draws the same, and a changed byte changes one choice.
type draw struct {
	data []byte
	then *rand.Rand
	// words are texts that mean something to the server.
	words []string
	// files are contents for fields of bytes.
	files [][]byte
}

func newDraw(data []byte, words []string, files [][]byte) *draw {
	sum := fnv.New64a()
	_, _ = sum.Write(data)
	return &draw{data: data, then: rand.New(rand.NewPCG(sum.Sum64(), 1)), words: words, files: files}
}

// below draws a number from 0 to n-1.
func (d *draw) below(n int) int {
	if len(d.data) < 2 {
		return d.then.IntN(n)
	}
	number := int(d.data[0])<<8 | int(d.data[1])
	d.data = d.data[2:]
	return number % n
}

// once in so many.
func (d *draw) once(in int) bool { return d.below(in) == 0 }

func pick[T any](d *draw, from []T) T { return from[d.below(len(from))] }

// hostile are texts that are meant to be wrong somewhere.
var hostile = []string{"", " ", "-", ".", "..", "../../etc/passwd", "/", "//", "\x00", "a\x00b", "\n", "a\r\nBcc: x@example.org", "\t", "\u202eabc", "\u200b", "\ufeff",
	"\u0301", "🚲", "é", "ﷺ", "%s%n%d", "{{.}}", "<script>alert(1)</script>", "' OR 1=1 --", "NaN", "-1", "0", "99999999999999999999", "2026-02-30", "2026-13-01",
	"0000-00-00", "9999-12-31", "2026-10-25T01:30", "2026-03-29T01:30", "2026-12-13T10:30:00Z", "25:00", "clubs/-", "clubs/fenwick/", "clubs//members/", "clubs/fenwick/members/-",
	"clubs/fenwick/rides/-", "clubs/elsewhere", "clubs/elsewhere/members/stranger", "clubs/FENWICK/members/mia", strings.Repeat("a", 300), strings.Repeat("ä", 5000),
	strings.Repeat("a/", 3000), strings.Repeat("(", 2000), "mia@example.org, max@example.org", "https://example.org/\x7f", "+44 (0)7700 900123"}

// message draws a message: mostly within the limits that the protocol states, sometimes at them, sometimes beyond.
func (d *draw) message(into protoreflect.Message, deep int) {
	fields := into.Descriptor().Fields()
	switch into.Descriptor().FullName() {
	case "google.protobuf.Timestamp":
		set := func(name string, value protoreflect.Value) { into.Set(fields.ByName(protoreflect.Name(name)), value) }
		set("seconds", protoreflect.ValueOfInt64(pick(d, []int64{friday.Unix(), friday.Unix() + 172800, 0, -1, 253402300799, 253402300800, -62135596800, math.MinInt64, math.MaxInt64})))
		set("nanos", protoreflect.ValueOfInt32(pick(d, []int32{0, 0, 0, 1, 999999999, -1, 1000000000})))
		return
	case "google.protobuf.FieldMask":
		list := into.Mutable(fields.ByName("paths")).List()
		for range d.below(4) {
			list.Append(protoreflect.ValueOfString(pick(d, []string{"display_name", "email", "roles", "pace_min_kmh", "groups", "title", "start_local", "conditions", "places", "may_lead",
				"guardian", "junior", "*", "", "no_such_field", "name", "etag", "a.b.c", "title", "\x00"})))
		}
		return
	}
	for i := range fields.Len() {
		field := fields.Get(i)
		if deep > 5 || !d.stated(field) {
			continue
		}
		switch {
		case field.IsMap():
		case field.IsList():
			d.list(into.Mutable(field).List(), field, deep)
		case field.Message() != nil:
			d.message(into.Mutable(field).Message(), deep+1)
		default:
			into.Set(field, d.value(field, limitsOf(field)))
		}
	}
}

// stated tells whether to state a field; one that is needed mostly.
func (d *draw) stated(field protoreflect.FieldDescriptor) bool {
	if limits := limitsOf(field); limits.GetRequired() || limits.GetString().GetMinLen() > 0 || limits.GetRepeated().GetMinItems() > 0 {
		return !d.once(20)
	}
	return d.once(2)
}

func limitsOf(field protoreflect.FieldDescriptor) *rules.FieldRules {
	limits, _ := proto.GetExtension(field.Options(), rules.E_Field).(*rules.FieldRules)
	return limits
}

// list draws the items of a list: few, or as many as are taken and one more.
func (d *draw) list(list protoreflect.List, field protoreflect.FieldDescriptor, deep int) {
	limits := limitsOf(field).GetRepeated()
	count := int(limits.GetMinItems()) + d.below(3)
	if most := int(limits.GetMaxItems()); most > 0 && most <= 1000 && d.once(30) {
		count = most + d.below(2)
	}
	for range count {
		if field.Message() == nil {
			list.Append(d.value(field, limits.GetItems()))
			continue
		}
		item := list.NewElement()
		if count < 10 {
			d.message(item.Message(), deep+1)
		}
		list.Append(item)
	}
}

// value draws what is no message.
func (d *draw) value(field protoreflect.FieldDescriptor, limits *rules.FieldRules) protoreflect.Value {
	switch field.Kind() {
	case protoreflect.BoolKind:
		return protoreflect.ValueOfBool(d.once(2))
	case protoreflect.EnumKind:
		values := field.Enum().Values()
		if d.once(20) {
			return protoreflect.ValueOfEnum(pick(d, []protoreflect.EnumNumber{-1, 99, math.MaxInt32}))
		}
		return protoreflect.ValueOfEnum(values.Get(d.below(values.Len())).Number())
	case protoreflect.StringKind:
		return protoreflect.ValueOfString(d.text(field, limits.GetString()))
	case protoreflect.BytesKind:
		return protoreflect.ValueOfBytes(d.file())
	case protoreflect.DoubleKind, protoreflect.FloatKind:
		number := d.number(limits.GetDouble().GetGte(), limits.GetDouble().GetLte(), limits.GetDouble() != nil)
		if field.Kind() == protoreflect.FloatKind {
			return protoreflect.ValueOfFloat32(float32(number))
		}
		return protoreflect.ValueOfFloat64(number)
	case protoreflect.Int32Kind:
		return protoreflect.ValueOfInt32(int32(d.number(float64(limits.GetInt32().GetGte()), float64(limits.GetInt32().GetLte()), limits.GetInt32() != nil)))
	case protoreflect.Int64Kind:
		return protoreflect.ValueOfInt64(int64(d.number(float64(limits.GetInt64().GetGte()), float64(limits.GetInt64().GetLte()), limits.GetInt64() != nil)))
	case protoreflect.Uint32Kind:
		return protoreflect.ValueOfUint32(uint32(d.below(100)))
	case protoreflect.Uint64Kind:
		return protoreflect.ValueOfUint64(uint64(d.below(100)))
	}
	return field.Default()
}

// number draws one within limits, at them, or anything.
func (d *draw) number(least, most float64, limited bool) float64 {
	if d.once(10) {
		return pick(d, []float64{0, -0.5, math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, math.SmallestNonzeroFloat64, math.MaxInt32, math.MinInt32, 1e9, -1e9})
	}
	if !limited || most <= least {
		return pick(d, []float64{0, 1, 2, 3, 10, 18, 23.5, 54, -2, 100, 1000})
	}
	switch d.below(6) {
	case 0:
		return least
	case 1:
		return most
	case 2:
		return least - 1
	case 3:
		return most + 1
	}
	return math.Round(least + (most-least)*float64(d.below(1001))/1000)
}

// text draws a text: of those that mean something, of a length at the limits, or hostile.
func (d *draw) text(field protoreflect.FieldDescriptor, limits *rules.StringRules) string {
	if in := limits.GetIn(); len(in) > 0 && !d.once(5) {
		return pick(d, in)
	}
	switch d.below(8) {
	case 0:
		return pick(d, hostile)
	case 1:
		if most := int(limits.GetMaxLen()); most > 0 && most < 100_000 {
			return strings.Repeat(pick(d, []string{"a", "ö", "🚲", " ", "\n"}), most+d.below(2))
		}
		return strings.Repeat("x", int(limits.GetMinLen()))
	}
	name := string(field.Name())
	switch {
	case strings.HasSuffix(name, "_local") || name == "signup_opens" || name == "signup_closes":
		return pick(d, []string{"2026-12-13T10:30", "2026-12-12T18:00", "2026-12-20T09:00", "2026-12-11T19:00"})
	case strings.Contains(name, "date") || strings.HasPrefix(name, "effective") || strings.HasSuffix(name, "day") || name == "from" || name == "to":
		return pick(d, []string{"2026-12-13", "2026-12-11", "2026-10-01", "2027-03-31"})
	case d.once(3):
		return pick(d, []string{"a", "Four Becks", "easy", "brisk", "0123456789", "winter.yaml", "winter bike"})
	}
	return pick(d, d.words)
}

// file draws the content of a file: whole, cut short, or with a byte changed.
func (d *draw) file() []byte {
	content := append([]byte{}, pick(d, d.files)...)
	switch d.below(6) {
	case 0:
		return content[:d.below(len(content)+1)]
	case 1:
		if len(content) > 0 {
			content[d.below(len(content))] ^= byte(1 + d.below(255))
		}
	}
	return content
}
