package plan

import (
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model/cure"
	"pourward/model/dry"
	"pourward/model/forecast"
	"pourward/model/material"
)

// row is one line of a table under testdata, by column name.
type row map[string]string

func table(t *testing.T, name string) []row {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	require.NoError(t, err)
	defer file.Close()
	reader := csv.NewReader(file)
	reader.Comment = '#'
	lines, err := reader.ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(lines), 1)
	var rows []row
	for _, line := range lines[1:] {
		r := row{}
		for i, column := range lines[0] {
			r[column] = line[i]
		}
		require.NotEmpty(t, r["source"], "a check value names its source: %v", line)
		rows = append(rows, r)
	}
	return rows
}

func (r row) number(t *testing.T, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r[column], 64)
	require.NoError(t, err, column)
	return v
}

// wednesday is where the paths of the tests begin: Wed 14 Jan 2026 00:00 UTC.
func wednesday() time.Time { return time.Date(2026, 1, 14, 0, 0, 0, 0, time.UTC) }

// day is an instant such as "Fri 17:00" from Wednesday on.
func day(t require.TestingT, s string) time.Time {
	var name string
	var hour, minute int
	_, err := fmt.Sscanf(s, "%3s %d:%d", &name, &hour, &minute)
	require.NoError(t, err)
	days := map[string]int{"Wed": 0, "Thu": 1, "Fri": 2, "Sat": 3, "Sun": 4}
	require.Contains(t, days, name)
	return wednesday().AddDate(0, 0, days[name]).Add(time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute)
}

// shop is a sight over paths that are given by a temperature at each hour.
func shop(n int, tempC func(path, hour int) float64, stuffs ...Stuff) Sight {
	p := &forecast.Paths{At: wednesday(), N: n, TempC: make([]float64, n*forecast.Steps)}
	for i := range n {
		for h := range forecast.Steps {
			p.Row(i)[h] = tempC(i, h)
		}
	}
	s := Sight{Place: "bench", At: p.At, Paths: p, VaporPa: 700, Zone: time.UTC, Stuffs: map[string]Stuff{}}
	for _, st := range stuffs {
		s.Stuffs[st.Of.Name] = st
	}
	return s
}

func steady(tempC float64) func(int, int) float64 { return func(int, int) float64 { return tempC } }

// rubber is a curing material whose events share one law.
func rubber(name string, refC, eaJ, workS, demoldS, lnSD float64) Stuff {
	known := cure.Known{LowC: 5, HighC: 35}
	law := cure.Arrhenius{EaJ: eaJ, RefC: refC}
	clock := func(s, sd float64) Clock {
		return Clock{Seconds: s, Law: law, Spread: cure.Spread{LnSD: sd, Known: known}}
	}
	return Stuff{
		Of:   material.Material{Name: name, Kind: material.Rubber, RefC: refC, Pour: material.Window{MinC: 12, MaxC: 32}},
		Work: clock(workS, lnSD), Demold: clock(demoldS, lnSD),
		LayerFrom: clock(2*workS, 0.1), LayerUntil: clock(demoldS, 0.1),
		Humidity: material.Humidities{Max: 0.85},
	}
}

func coat(name string, kind material.Kind, class dry.Class, refC float64, ref time.Duration) Stuff {
	return Stuff{
		Of:   material.Material{Name: name, Kind: kind, RefC: refC},
		Coat: dry.Coat{Class: class, Ref: ref, RefC: refC, RefHumidity: 0.5},
	}
}
