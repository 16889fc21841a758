package air

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// readTable reads a check table by column name and fails the test when it is broken or names no source.
func readTable(t *testing.T, path string) []map[string]string {
	t.Helper()
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	lines, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1, "%s holds no checks", path)
	var rows []map[string]string
	for _, line := range lines[1:] {
		row := map[string]string{}
		for i, name := range lines[0] {
			row[name] = line[i]
		}
		require.NotEmpty(t, row["source"])
		require.NotEmpty(t, row["status"])
		rows = append(rows, row)
	}
	return rows
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return x
}

// requireNear holds got to a tolerance that is absolute, or relative when it ends in %.
func requireNear(t *testing.T, expected, tolerance string, got float64) {
	t.Helper()
	want := number(t, expected)
	if percent, ok := strings.CutSuffix(tolerance, "%"); ok {
		require.InEpsilon(t, want, got, number(t, percent)/100)
		return
	}
	require.InDelta(t, want, got, number(t, tolerance))
}

// quantities computes each quantity of checks.csv from its inputs: t air, td dew point, tw wet bulb, s surface (degC),
// h humidity, p pressure and e vapor pressure (Pa), z elevation (m), dt and dh probe errors.
var quantities = map[string]func(in map[string]float64) float64{
	"saturation":     func(in map[string]float64) float64 { return SaturationPa(in["t"]) },
	"saturation ice": func(in map[string]float64) float64 { return SaturationIcePa(in["t"]) },
	"saturated ratio": func(in map[string]float64) float64 {
		return HumidityRatio(in["t"], 1, in["p"])
	},
	"saturated ratio ice": func(in map[string]float64) float64 {
		return HumidityRatio(in["t"], SaturationIcePa(in["t"])/SaturationPa(in["t"]), in["p"])
	},
	"ratio of vapor pressure": func(in map[string]float64) float64 { return ratioOf(in["e"], in["p"]) },
	"dew point":               func(in map[string]float64) float64 { return DewPointC(in["t"], in["h"]) },
	"humidity":                func(in map[string]float64) float64 { return Humidity(in["t"], in["td"]) },
	"pressure":                func(in map[string]float64) float64 { return PressurePa(in["z"]) },
	"psychrometer":            psychrometer,
	"psychrometer humidity":   func(in map[string]float64) float64 { return psychrometer(in) / SaturationPa(in["t"]) },
	"psychrometer dew point": func(in map[string]float64) float64 {
		return DewPointC(in["t"], psychrometer(in)/SaturationPa(in["t"]))
	},
	"wet bulb": func(in map[string]float64) float64 { return WetBulbC(in["t"], in["h"], in["p"]) },
	"wet bulb ratio": func(in map[string]float64) float64 {
		return WetBulbRatio(in["t"], in["tw"], in["p"])
	},
	"wet bulb relation": func(in map[string]float64) float64 {
		return overWater(in["t"], in["tw"], ratioOf(in["e"], in["p"]))
	},
	"wet bulb humidity":  wetBulbHumidity,
	"wet bulb dew point": func(in map[string]float64) float64 { return DewPointC(in["t"], wetBulbHumidity(in)) },
	"surface margin": func(in map[string]float64) float64 {
		if dewPoint, ok := in["td"]; ok {
			return SurfaceMarginK(in["s"], in["t"], Humidity(in["t"], dewPoint))
		}
		return SurfaceMarginK(in["s"], in["t"], in["h"])
	},
	"lowest surface": func(in map[string]float64) float64 { return DewPointC(in["t"], in["h"]) + 3 },
	"slope per humidity": func(in map[string]float64) float64 {
		_, perHumidity := DewPointSlopes(in["t"], in["h"])
		return perHumidity
	},
	"slope per kelvin": func(in map[string]float64) float64 {
		perK, _ := DewPointSlopes(in["t"], in["h"])
		return perK
	},
	"dew point sd": func(in map[string]float64) float64 {
		return DewPointSD(in["t"], in["h"], in["dt"], in["dh"])
	},
}

func psychrometer(in map[string]float64) float64 {
	return PsychrometerPa(in["t"], in["tw"], in["p"], FanCoefficient)
}

// wetBulbHumidity inverts the humidity ratio that a wet bulb gives.
func wetBulbHumidity(in map[string]float64) float64 {
	ratio := WetBulbRatio(in["t"], in["tw"], in["p"])
	return ratio * in["p"] / (massRatio + ratio) / SaturationPa(in["t"])
}

func TestAgainstPublishedValues(t *testing.T) {
	for _, row := range readTable(t, "testdata/checks.csv") {
		t.Run(row["id"]+" "+row["quantity"], func(t *testing.T) {
			in := map[string]float64{}
			for part := range strings.SplitSeq(row["inputs"], ";") {
				name, value, _ := strings.Cut(part, "=")
				in[name] = number(t, value)
			}
			require.Contains(t, quantities, row["quantity"])
			requireNear(t, row["expected"], row["tolerance"], quantities[row["quantity"]](in))
		})
	}
}

func TestAgainstPsychrolibGrid(t *testing.T) {
	const seaLevelPa = 101325
	for _, row := range readTable(t, "testdata/psychrolib.csv") {
		t.Run(row["temp_C"]+" degC "+row["humidity"], func(t *testing.T) {
			tempC, humidity := number(t, row["temp_C"]), number(t, row["humidity"])
			requireNear(t, row["saturation_Pa"], "0.35%", SaturationPa(tempC))
			requireNear(t, row["vapor_Pa"], "0.35%", VapourPa(tempC, humidity))
			requireNear(t, row["ratio_kg_kg"], "0.35%", HumidityRatio(tempC, humidity, seaLevelPa))
			requireNear(t, row["wet_bulb_C"], "0.06", WetBulbC(tempC, humidity, seaLevelPa))
			point := DewPointC(tempC, humidity)
			if point < 0 {
				point = FrostPointC(tempC, humidity)
			}
			requireNear(t, row["dew_or_frost_point_C"], "0.06", point)
		})
	}
}
