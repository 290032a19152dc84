package microclimate

import (
	"math"
	"time"
)

// The sun's place follows J. Meeus, Astronomical Algorithms, 2nd ed. 1998,
// chapters 7, 22, 25 and 28 (low accuracy, 0.01°), as in the NOAA solar
// calculator of the Global Monitoring Laboratory.

const radian = math.Pi / 180

// Sunrise and sunset are taken at -0.833°: refraction 34' and half the disc 16' (Meeus ch. 15).
const horizonDeg = -0.833

// solar is the sun's declination (degrees), the equation of time (minutes) and
// the distance to the sun (astronomical units).
type solar struct{ declination, equationMin, distance float64 }

func solarAt(t time.Time) solar {
	jc := (float64(t.Unix())/86400 + 2440587.5 - 2451545) / 36525
	long := math.Mod(280.46646+jc*(36000.76983+jc*0.0003032), 360)
	anom := (357.52911 + jc*(35999.05029-0.0001537*jc)) * radian
	ecc := 0.016708634 - jc*(0.000042037+0.0000001267*jc)
	centre := math.Sin(anom)*(1.914602-jc*(0.004817+0.000014*jc)) +
		math.Sin(2*anom)*(0.019993-0.000101*jc) + math.Sin(3*anom)*0.000289
	node := (125.04 - 1934.136*jc) * radian
	apparent := (long + centre - 0.00569 - 0.00478*math.Sin(node)) * radian
	tilt := (23.43929111 - jc*(0.013004167+jc*1.6e-7) + 0.00256*math.Cos(node)) * radian
	y := math.Tan(tilt/2) * math.Tan(tilt/2)
	l := long * radian
	eq := y*math.Sin(2*l) - 2*ecc*math.Sin(anom) + 4*ecc*y*math.Sin(anom)*math.Cos(2*l) -
		0.5*y*y*math.Sin(4*l) - 1.25*ecc*ecc*math.Sin(2*anom)
	trueAnom := anom + centre*radian
	return solar{
		declination: math.Asin(math.Sin(tilt)*math.Sin(apparent)) / radian,
		equationMin: 4 * eq / radian,
		distance:    1.000001018 * (1 - ecc*ecc) / (1 + ecc*math.Cos(trueAnom)),
	}
}

// SunElevation is the angle of the sun's centre above the horizon in degrees,
// without refraction, at an instant and a place (degrees, north and east positive).
func SunElevation(t time.Time, latitude, longitude float64) float64 {
	return math.Asin(sinElevation(solarAt(t), t, latitude, longitude)) / radian
}

func sinElevation(s solar, t time.Time, latitude, longitude float64) float64 {
	u := t.UTC()
	minutes := float64(u.Hour()*60+u.Minute()) + float64(u.Second())/60
	hourAngle := ((minutes+s.equationMin+4*longitude)/4 - 180) * radian
	dec, lat := s.declination*radian, latitude*radian
	return math.Sin(lat)*math.Sin(dec) + math.Cos(lat)*math.Cos(dec)*math.Cos(hourAngle)
}

// SunUp tells whether the upper edge of the sun is above a flat horizon.
func SunUp(t time.Time, latitude, longitude float64) bool {
	return SunElevation(t, latitude, longitude) > horizonDeg
}

// Daylight gives sunrise and sunset around the solar noon of the UTC day that
// holds noon. In polar night and polar day ok is false; up then says which.
func Daylight(noon time.Time, latitude, longitude float64) (rise, set time.Time, up, ok bool) {
	u := noon.UTC()
	midnight := time.Date(u.Year(), u.Month(), u.Day(), 0, 0, 0, 0, time.UTC)
	s := solarAt(noon)
	transit := 720 - 4*longitude - s.equationMin
	dec, lat := s.declination*radian, latitude*radian
	cosH := (math.Sin(horizonDeg*radian) - math.Sin(lat)*math.Sin(dec)) / (math.Cos(lat) * math.Cos(dec))
	if cosH >= 1 {
		return time.Time{}, time.Time{}, false, false
	}
	if cosH <= -1 {
		return time.Time{}, time.Time{}, true, false
	}
	half := 4 * math.Acos(cosH) / radian
	return midnight.Add(minutesOf(transit - half)), midnight.Add(minutesOf(transit + half)), true, true
}

func minutesOf(m float64) time.Duration { return time.Duration(m * float64(time.Minute)) }
