package fixed

import (
	"fmt"
	"math"

	"strawline/probe/temp"
)

// HPa is an air pressure in hectopascals; one is 100 Pa, a millibar.
type HPa float64

// Metres is a height above the sea.
type Metres float64

// What a place on earth can have. Shops stand between the shore of the Dead Sea (-430 m) and the
// highest towns (5100 m); the pressures are those of these heights with weather of ±60 hPa, all
// rounded outwards. From memory.
const (
	LowestPressure  HPa    = 450
	HighestPressure HPa    = 1150
	LowestHeight    Metres = -500
	HighestHeight   Metres = 5500
)

// How far the pieces of a boiling point may be off in a shop.
const (
	// Weather is how far the pressure of a day may be from the standard atmosphere's: ±20 hPa
	// in most weather, more in a storm or under a winter's high.
	Weather HPa = 20
	// Barometer is how far a household barometer or a telephone's may be off, corrected for
	// nothing; our own allowance.
	Barometer HPa = 3
	// Pot is what a pot of boiling water is off by itself, °C: 5 cm of water above the tip are
	// 5 hPa (0.14 °C), the bottom superheats, and minerals raise it. Our own allowance.
	Pot temp.Delta = 0.2
	// Bath is what a bath of ice and water is off, °C: salts of tap water lower it by some
	// hundredths, and the probe conducts. Our own allowance.
	Bath temp.Delta = 0.1
)

// BoilingAt gives the temperature at which pure water boils, by the saturation line of
// IAPWS-IF97 (region 4, equation 31): at 1000 hPa 372.755919 K, 99.606 °C. The coefficients are
// from memory; they give the check values of the release's table 36 to all their digits. Outside
// LowestPressure to HighestPressure it is an error.
func BoilingAt(p HPa) (temp.C, error) {
	if !(p >= LowestPressure && p <= HighestPressure) {
		return 0, fmt.Errorf("%.6g hPa is no air pressure of a place where people work: %.0f to "+
			"%.0f hPa", float64(p), float64(LowestPressure), float64(HighestPressure))
	}
	return temp.C(saturation(float64(p)/1e4) - 273.15), nil
}

// saturation gives the temperature in K from the pressure in MPa.
func saturation(p float64) float64 {
	const (
		n1  = 0.11670521452767e4
		n2  = -0.72421316703206e6
		n3  = -0.17073846940092e2
		n4  = 0.12020824702470e5
		n5  = -0.32325550322333e7
		n6  = 0.14915108613530e2
		n7  = -0.48232657361591e4
		n8  = 0.40511340542057e6
		n9  = -0.23855557567849
		n10 = 0.65017534844798e3
	)
	b := math.Sqrt(math.Sqrt(p))
	e := b*b + n3*b + n6
	f := n1*b*b + n4*b + n7
	g := n2*b*b + n5*b + n8
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	s := n10 + d
	return (s - math.Sqrt(s*s-4*(n9+n10*d))) / 2
}

// Atmosphere gives the pressure of the U.S. Standard Atmosphere of 1976 at a height: 1013.25 hPa
// at the sea, 898.75 at 1000 m. The height is taken as geopotential, which differs by 0.1 % at
// 5500 m. Outside LowestHeight to HighestHeight it is an error.
func Atmosphere(h Metres) (HPa, error) {
	if !(h >= LowestHeight && h <= HighestHeight) {
		return 0, fmt.Errorf("%.6g m is no height of a place where people work: %.0f to %.0f m",
			float64(h), float64(LowestHeight), float64(HighestHeight))
	}
	const (
		base  = 1013.25     // hPa
		warm  = 288.15      // K
		lapse = 0.0065      // K/m
		power = 5.255879813 // g0 M / (R lapse) = 9.80665 * 0.0289644 / (8.31432 * 0.0065)
	)
	return HPa(base * math.Pow(1-lapse*float64(h)/warm, power)), nil
}

// Slope gives how much warmer water boils for one hPa more: 0.0277 °C at 1013 hPa, 0.0335 at 800.
func Slope(p HPa) (temp.Delta, error) {
	low, err := BoilingAt(p - 1)
	if err != nil {
		return 0, err
	}
	high, err := BoilingAt(p + 1)
	return high.Sub(low) / 2, err
}

// Ice gives the ice point.
func Ice() Point {
	return Point{Name: "ice", Full: "ice and water", Is: 0, Within: Bath,
		Source: "air-saturated water, 0.000 °C (NBS J. Res. 65A, 1961, table 2)",
		How: "Crush ice, fill a vacuum flask with it and pour in cold clean water until it just " +
			"covers. Stir for two minutes; the tip stands in the middle, among ice, 10 cm deep.",
		Cautions: []string{"Water under the ice may have 4 °C: ice must reach down to the tip."}}
}

// Boiling gives the boiling point of water at a station pressure: what a barometer in the shop
// shows, not the weather report's, which is reduced to the sea's level.
func Boiling(station HPa) (Point, error) {
	return boiling(station, Barometer, fmt.Sprintf("at %.0f hPa", float64(station)),
		fmt.Sprintf("IAPWS-IF97; ±%.0f hPa of the barometer", float64(Barometer)))
}

// BoilingAtHeight gives the boiling point where only the height is known: its uncertainty is
// the weather's, ±0.55 °C at the sea and more above.
func BoilingAtHeight(h Metres) (Point, error) {
	p, err := Atmosphere(h)
	if err != nil {
		return Point{}, err
	}
	return boiling(p, Weather, fmt.Sprintf("at %.0f m", float64(h)), fmt.Sprintf(
		"IAPWS-IF97 at %.0f hPa of the 1976 standard atmosphere; ±%.0f hPa of weather",
		float64(p), float64(Weather)))
}

func boiling(p, within HPa, where, source string) (Point, error) {
	is, err := BoilingAt(p)
	if err != nil {
		return Point{}, err
	}
	slope, err := Slope(p)
	if err != nil {
		return Point{}, err
	}
	air := float64(slope) * float64(within)
	return Point{Name: "boiling", Full: "boiling water " + where, Is: is,
		Within: temp.Delta(math.Hypot(air, float64(Pot))), Source: source,
		How: "Boil clean water in a deep pot at a full rolling boil. The tip hangs 5 cm under " +
			"the surface, off bottom and wall.",
		Cautions: []string{"Steam scalds: clamp the probe, keep hands and face away."}}, nil
}
