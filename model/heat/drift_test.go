package heat

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/require"
)

const dayTurn = 2 * math.Pi / 86400

// swing is the answer of the rubber's middle and skin to air swinging once a
// day: 1/(cosh q + q/Bi sinh q) and cosh q times that, q = (1+i)L√(ω/2α).
func swing(length float64) (core, skin complex128) {
	q := complex(1, 1) * complex(length*math.Sqrt(dayTurn/(2*rubberAlpha)), 0)
	biot := complex(8*length/0.22, 0)
	core = 1 / (cmplx.Cosh(q) + q/biot*cmplx.Sinh(q))
	return core, core * cmplx.Cosh(q)
}

// lagHours is how late the answer is.
func lagHours(answer complex128) float64 { return -cmplx.Phase(answer) / dayTurn / 3600 }

func TestDriftingAirFormulas(t *testing.T) {
	for _, r := range table(t, "drifting_air.csv") {
		length := r.number(t, "thickness_mm") / 1000
		core, skin := swing(length)
		got := map[string]float64{
			"ramp lag":   length*length/(2*rubberAlpha) + 1200*1300*length/8,
			"core ratio": cmplx.Abs(core),
			"core lag h": lagHours(core),
			"skin ratio": cmplx.Abs(skin),
			"skin lag h": lagHours(skin),
		}
		require.InDelta(t, r.number(t, "expected"), got[r["quantity"]], r.number(t, "tolerance"), "%v", r)
	}
}

// The mesh's own lag tends to the formula; its first cell is half a cell from the back.
func TestLag(t *testing.T) {
	for _, r := range table(t, "drifting_air.csv") {
		if r["quantity"] != "ramp lag" {
			continue
		}
		length := r.number(t, "thickness_mm") / 1000
		require.InEpsilon(t, r.number(t, "expected"), rubber(t, Slab, length, 200).LagSeconds(), 1e-4, "%v", r)
	}
	sealed := bodyOf(t, Build{Layers: []Layer{{Material: Plaster(), Thickness: 0.05}}})
	require.True(t, math.IsInf(sealed.LagSeconds(), 1))
	cold := bodyOf(t, Build{Layers: []Layer{{Material: Plaster(), Thickness: 0.05}}, RightH: 8})
	require.InEpsilon(t, 0.05*0.05/(2*Plaster().DiffusivityM2S())+1.2e6*0.05/8, cold.LagSeconds(), 1e-3)
}

// A drift that has lasted long is followed at the lag's distance.
func TestSchemeFollowsADrift(t *testing.T) {
	body := rubber(t, Slab, 0.04, 0)
	s := at(t, body, []float64{20})
	const perSecond = -1.0 / 3600
	seconds := 0.0
	for seconds < 5*86400 {
		require.NoError(t, s.Leap(20+perSecond*seconds, 600))
		seconds += 600
	}
	behind := (s.TempC(0) - s.airC) / -perSecond
	require.InDelta(t, body.LagSeconds(), behind, 1)
}

// The daily swing arrives at the middle as small and as late as the formula says.
func TestSchemeFollowsADay(t *testing.T) {
	for _, step := range []struct {
		seconds   float64
		leap      bool
		tolerance float64
	}{{10, false, 1e-3}, {600, true, 1e-3}} {
		body := rubber(t, Slab, 0.04, 40)
		s := at(t, body, []float64{0})
		s.airC = 0
		var in, out float64
		for n := 1; float64(n)*step.seconds <= 5*86400; n++ {
			now := float64(n) * step.seconds
			air := math.Sin(dayTurn * now)
			if step.leap {
				require.NoError(t, s.Leap(air, step.seconds))
			} else {
				require.NoError(t, s.Step(air, step.seconds))
			}
			if now > 4*86400 { // the last day, against both quarters
				in += 2 * s.TempC(0) * math.Sin(dayTurn*now) * step.seconds / 86400
				out += 2 * s.TempC(0) * math.Cos(dayTurn*now) * step.seconds / 86400
			}
		}
		core, _ := swing(0.04)
		require.InDelta(t, cmplx.Abs(core), math.Hypot(in, out), step.tolerance)
		require.InDelta(t, lagHours(core), math.Atan2(-out, in)/dayTurn/3600, 5e-3)
	}
}

// deepSwing are the closed forms for deep bodies (Carslaw and Jaeger 2.6, 2.9).
func deepSwing() map[string]float64 {
	plaster := Plaster()
	b := plaster.ConductivityW / 8 * math.Sqrt(dayTurn/(2*plaster.DiffusivityM2S()))
	depth := math.Sqrt(2 * plaster.DiffusivityM2S() / dayTurn)
	prescribed := 0.01 * math.Sqrt(7.272/(2*1.1e-4))
	return map[string]float64{
		"plaster surface ratio":      1 / math.Sqrt(1+2*b+2*b*b),
		"plaster surface lag h":      math.Atan(b/(1+b)) / dayTurn / 3600,
		"plaster 50 mm deeper ratio": math.Exp(-0.05 / depth),
		"plaster 50 mm deeper lag h": 0.05 / (depth * dayTurn) / 3600,
		"plaster damping depth m":    depth,
		"prescribed swing":           293 + 15*math.Exp(-prescribed)*math.Sin(7.272*0.5-prescribed),
	}
}

func TestDeepSwing(t *testing.T) {
	got := deepSwing()
	for _, r := range table(t, "deep.csv") {
		require.Contains(t, got, r["quantity"])
		require.InDelta(t, r.number(t, "expected"), got[r["quantity"]], r.number(t, "tolerance"), "%v", r)
	}
}

// A deep plaster in the scheme: surface and 50 mm below.
func TestDeepSwingScheme(t *testing.T) {
	body := bodyOf(t, Build{Layers: []Layer{{Material: Plaster(), Thickness: 0.8, Cells: 640}}, RightH: 8})
	s := at(t, body, []float64{0})
	s.airC = 0
	var skinIn, skinOut, deepIn, deepOut float64
	for n := 1; n <= 6*144; n++ {
		now := 600 * float64(n)
		require.NoError(t, s.Leap(math.Sin(dayTurn*now), 600))
		if n <= 5*144 {
			continue
		}
		skin := s.ProbeC(body.OnFace(1))
		deep := (s.TempC(599) + s.TempC(600)) / 2 // 0.75 m from the back
		skinIn, skinOut = skinIn+skin*math.Sin(dayTurn*now)/72, skinOut+skin*math.Cos(dayTurn*now)/72
		deepIn, deepOut = deepIn+deep*math.Sin(dayTurn*now)/72, deepOut+deep*math.Cos(dayTurn*now)/72
	}
	want := deepSwing()
	surface := math.Hypot(skinIn, skinOut)
	require.InDelta(t, want["plaster surface ratio"], surface, 1e-3)
	require.InDelta(t, want["plaster 50 mm deeper ratio"], math.Hypot(deepIn, deepOut)/surface, 2e-3)
	later := math.Atan2(-deepOut, deepIn) - math.Atan2(-skinOut, skinIn)
	require.InDelta(t, want["plaster 50 mm deeper lag h"], later/dayTurn/3600, 0.02)
}
