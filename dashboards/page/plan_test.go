package page

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"pourward/model"
	"pourward/model/forecast"
	"pourward/model/material"
	"pourward/model/plan"
	"pourward/sensors"
)

// cannedSight is the air of a place that may go a hundred ways around a level, °C.
func cannedSight(t require.TestingT, level float64) plan.Sight {
	shop, err := model.NewShop(model.Setup{Places: []string{"bench"}, Probes: []model.Probe{{Name: "air", Place: "bench", Every: time.Minute}}, Zone: berlin(), Shelf: material.Generic()})
	require.NoError(t, err)
	shop.Reading(sensors.Reading{Probe: "air", At: thursday(), Temp: sensors.GoodMeasure(level), Humidity: sensors.GoodMeasure(0.5)})
	s, err := shop.Sight("bench", thursday())
	require.NoError(t, err)
	const n = 100
	s.Paths = &forecast.Paths{At: thursday(), N: n, TempC: make([]float64, n*forecast.Steps)}
	for i := range n {
		for h := range forecast.Steps {
			off := 1.5 * math.Sin(float64(i)*2.4) * math.Min(1, float64(h)/12)
			s.Paths.Row(i)[h] = level + off + 3*math.Sin(2*math.Pi*float64(h+4)/24)
		}
	}
	return s
}

func planning(t require.TestingT, level float64) Options {
	o := cannedOptions(annex())
	o.Hours = plan.Hours{{Days: [7]bool{true, true, true, true, true, true, true}, From: 8 * time.Hour, To: 18 * time.Hour}}
	o.HeatC = map[string]float64{"bench": 21}
	o.Sight = func(_ context.Context, place string) (plan.Sight, error) {
		if place != "bench" {
			return plan.Sight{}, errors.New("no probe sits at " + place + ", so nothing can be planned there")
		}
		return cannedSight(t, level), nil
	}
	return o
}

func planQuery(more ...string) string {
	q := url.Values{"by": {"Sat 17:00"}, "place": {"bench"}, "sealer": {"lacquer"}, "coats": {"2"}, "release": {"wax-naphtha"}, "rubber": {"platinum-slow"}, "layers": {"1"}}
	for i := 0; i < len(more); i += 2 {
		q.Set(more[i], more[i+1])
	}
	return "/plan?" + q.Encode()
}

func TestGoldenPlans(t *testing.T) {
	mild, cold := New(planning(t, 19.5)), New(planning(t, 13))
	golden(t, "plan", get(t, mild, "/plan").Body.String())
	golden(t, "plan-holds", get(t, mild, planQuery()).Body.String())
	golden(t, "plan-layers", get(t, mild, planQuery("layers", "3", "begin", "Fri 9:00", "work", "daily 08:00-22:00")).Body.String())
	golden(t, "plan-two-step", get(t, mild, planQuery("by", "Sun 18:00", "first", "platinum-slow", "cast", "polyurethane-resin", "coats", "1")).Body.String())
	golden(t, "plan-cold", get(t, cold, planQuery("heat_from", "Fri 8:00"), &http.Cookie{Name: unitCookie, Value: "F"}).Body.String())
	golden(t, "plan-cannot-say", get(t, mild, planQuery("by", "2025-12-05 17:00")).Body.String())
}

// ask asks for a plan as a command does.
func ask(t *testing.T, h http.Handler, path string) (status int, answer map[string]any) {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, "http://shop.test"+path, nil)
	r.Header.Set("Accept", "application/json")
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	require.Equal(t, "application/json", w.Header().Get("Content-Type"))
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &answer))
	return w.Code, answer
}

func TestPlanAsJSON(t *testing.T) {
	h := New(planning(t, 19.5))
	status, a := ask(t, h, planQuery("course", "lacquer, platinum-slow"))
	require.Equal(t, http.StatusOK, status)
	require.Equal(t, "holds", a["verdict"])
	require.Equal(t, "2025-11-29T16:00:00Z", a["by"])
	require.Len(t, a["actions"], 3)
	latest, err := time.Parse(time.RFC3339, a["latest"].(string))
	require.NoError(t, err)
	require.Contains(t, a["told"].([]any)[0], latest.In(berlin()).Format("Mon 15:04"))
	require.GreaterOrEqual(t, a["share"], 0.9)

	status, a = ask(t, h, planQuery("by", "2025-12-05 17:00"))
	require.Equal(t, http.StatusOK, status)
	require.Equal(t, "cannot say", a["verdict"])
	require.Nil(t, a["latest"])
	require.Nil(t, a["share"])
	require.Equal(t, "2025-12-02T16:00:00Z", a["ask_from"])
}

func TestPlanThatCannotBeMadeSaysWhy(t *testing.T) {
	h := New(planning(t, 19.5))
	for says, more := range map[string][]string{
		"say by when": {"by", ""}, "cannot read \"soon\"": {"by", "soon"}, "has passed": {"by", "2025-11-27 12:00"},
		"choose a rubber": {"rubber", "", "sealer", "", "release", ""}, "no material is called": {"course", "putty"},
		"needs both": {"first", "tin-silicone"}, "no probe sits at pattern": {"place", "pattern"}, "working hours": {"work", "whenever"},
		"as a temperature": {"heat", "warm"}, "heated to 5 to 35": {"heat", "90"}, "heating": {"heat_from", "later"},
		"hours of heating": {"heat_hours", "8"}, "number of seal coats": {"coats", "some"}, "number of layers": {"layers", "-1"},
		"from 1 to 12 coats": {"layers", "40"}, "the start has passed": {"begin", "2025-11-27 12:00"},
	} {
		status, a := ask(t, h, planQuery(more...))
		require.Equal(t, http.StatusUnprocessableEntity, status, says)
		require.Contains(t, strings.ToLower(a["error"].(string)), says)
		page := get2(h, planQuery(more...))
		require.Equal(t, http.StatusUnprocessableEntity, page.Code)
		require.Contains(t, page.Body.String(), "banner grave", "the page keeps what was typed and says why")
	}
	status, _ := ask(t, h, "/plan")
	require.Equal(t, http.StatusUnprocessableEntity, status)
	require.Equal(t, http.StatusNotFound, get2(New(cannedOptions(annex())), "/plan").Code, "without a sight nothing is planned")
}

// get2 asks for a page that need not be there.
func get2(h http.Handler, path string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "http://shop.test"+path, nil))
	return w
}

func TestHeatIsReadInEitherUnit(t *testing.T) {
	c, f := voice{unit: Celsius}, voice{unit: Fahrenheit}
	for _, x := range []struct {
		v     voice
		typed string
		want  float64
	}{{c, "22", 22}, {c, "22 °C", 22}, {c, "71.6 F", 22}, {f, "71,6", 22}, {f, "22c", 22}, {f, "50°F", 10}} {
		got, err := x.v.parseTemp(x.typed)
		require.NoError(t, err)
		require.InDelta(t, x.want, got, 1e-9, x.typed)
	}
	_, err := c.parseTemp("22 K")
	require.Error(t, err)
}

func BenchmarkPlanPage(b *testing.B) {
	o := planning(b, 19.5)
	sight := cannedSight(b, 19.5)
	o.Sight = func(context.Context, string) (plan.Sight, error) { return sight, nil }
	h := New(o)
	b.ReportAllocs()
	for b.Loop() {
		if w := get2(h, planQuery()); w.Code != http.StatusOK {
			b.Fatal(w.Code)
		}
	}
}
