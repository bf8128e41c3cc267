package weather

import (
	"fmt"
	"math"
)

// IceRisk is how far ice on the road must be reckoned with. It is a caution
// from a stated table, not a forecast.
type IceRisk int

// The levels, in growing order.
const (
	None IceRisk = iota
	Possible
	Likely
)

// String is the level in lower case, as "likely".
func (r IceRisk) String() string {
	switch r {
	case None:
		return "none"
	case Possible:
		return "possible"
	case Likely:
		return "likely"
	default:
		return fmt.Sprintf("ice risk %d", int(r))
	}
}

// IceRow is one line of the ice table: the risk, if every condition holds.
type IceRow struct {
	Risk      IceRisk
	MaxAirC   float64 // air at or below this, degC
	MaxSpread float64 // air minus dew point at or below this, degC; NaN: any
	Wet       bool    // only if the road is or has lately been wet
	ClearSky  bool    // only under a clear sky
	Why       string  // in plain words, for the brief
}

// IceTable is the table in the order in which it is read: the first row that
// holds gives the risk, and no row means None.
//
// The limits are this project's own caution. They lean on published practice:
// councils treat roads when the surface is forecast below +0.5 or +1 degC;
// road and air may differ by several degrees, most under a clear sky;
// motorists are told to think of ice at 3 or 4 degC of air; frost forms where
// the surface is at or below freezing and below the dew point.
//
// Where the dew point is unknown, a row that asks for a spread holds only if
// its risk is Possible: not knowing is reason for care, not for alarm.
func IceTable() []IceRow {
	anySpread := math.NaN()
	return []IceRow{
		{Likely, 0, anySpread, true, false, "air at or below 0 °C and the road is or has lately been wet: standing water freezes"},
		{Likely, 0, 1, false, false, "air at or below 0 °C and nearly saturated: frost or freezing fog settles on the road"},
		{Likely, 2, anySpread, true, true, "clear sky cools a wet road several degrees below the air, which is at or below 2 °C"},
		{Likely, 1, 1, false, true, "clear sky cools the road below freezing and the air, at or below 1 °C, is moist enough for frost"},
		{Possible, 0, anySpread, false, false, "air at or below 0 °C: ice in shade, on bridges and where water seeps across"},
		{Possible, 3, anySpread, true, false, "air at or below 3 °C over a road that is or has lately been wet"},
		{Possible, 4, anySpread, true, true, "clear sky over a road that is or has lately been wet, air at or below 4 °C"},
		{Possible, 3, 2, false, true, "clear sky and moist air at or below 3 °C: frost on bridges and in hollows"},
	}
}

// holds reports whether a row of the table applies. spreadC is NaN if unknown.
func (r IceRow) holds(c Conditions, spreadC float64) bool {
	if !(c.TempC <= r.MaxAirC) || r.Wet && !c.Wet && !c.RecentWet || r.ClearSky && !c.ClearSky {
		return false
	}
	switch {
	case math.IsNaN(r.MaxSpread):
		return true
	case math.IsNaN(spreadC):
		return r.Risk == Possible
	default:
		return spreadC <= r.MaxSpread
	}
}

// Ice is the risk of ice by [IceTable], and why. The reason is empty for None.
func (c Conditions) Ice() (IceRisk, string) {
	spread := c.TempC - c.DewPoint()
	for _, row := range IceTable() {
		if row.holds(c, spread) {
			return row.Risk, row.Why
		}
	}
	return None, ""
}
