package weather

// SeriouslyReducedM is the distance in metres below which visibility is
// "seriously reduced" in the GB Highway Code, rule 226: lights are needed by
// day too.
const SeriouslyReducedM = 100.0

// Visibility is a class of how far one can see.
type Visibility int

// The classes, worst last. Fog, thick and dense fog are the UK Met Office's
// (fact sheet 3; its pages differ on thick: below 200 m here). Mist up to
// 5000 m is aviation practice, from memory.
const (
	VisibilityUnknown Visibility = iota
	Clear                        // more than 5000 m
	Mist                         // more than 1000 m, up to 5000 m
	Fog                          // 200 m to 1000 m
	ThickFog                     // 50 m to less than 200 m
	DenseFog                     // less than 50 m
)

// VisibilityOf classes a visibility in metres. NaN and negative are unknown.
func VisibilityOf(m float64) Visibility {
	switch {
	case !(m >= 0):
		return VisibilityUnknown
	case m < 50:
		return DenseFog
	case m < 200:
		return ThickFog
	case m <= 1000:
		return Fog
	case m <= 5000:
		return Mist
	default:
		return Clear
	}
}

// String is the class in plain words.
func (v Visibility) String() string {
	switch v {
	case Clear:
		return "clear"
	case Mist:
		return "mist"
	case Fog:
		return "fog"
	case ThickFog:
		return "thick fog"
	case DenseFog:
		return "dense fog"
	default:
		return "visibility unknown"
	}
}
