package mix

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// second gives the error of a call that also gives a value.
func second[T any](_ T, err error) error { return err }

// with is a ten-to-one recipe, changed.
func with(change func(*Recipe)) error {
	r := twoParts(10)
	change(&r)
	return r.Check()
}

// Every refusal is one sentence: what cannot be, and how to correct it.
func TestRefusals(t *testing.T) {
	nan := math.NaN()
	mixed := Recipe{Parts: []Part{{Name: "shellac"}}}
	batch, err := twoParts(10).Batch(110)
	require.NoError(t, err)
	for want, got := range map[string]error{
		// Ratios.
		`mix ratio: "shellac" comes ready mixed and has no ratio: leave the ratio out, or name the second part`:                             Recipe{Parts: []Part{{Name: "shellac", Ratio: 1}}}.Check(),
		`mix ratio: nothing is in it: name the parts, as A and B`:                                                                           Recipe{}.Check(),
		`mix ratio: basis 7 is unknown: say by weight or by volume`:                                                                         with(func(r *Recipe) { r.Basis = 7 }),
		`mix ratio: a part has no name: call it as its container does, as A or B`:                                                           with(func(r *Recipe) { r.Parts[0].Name = "" }),
		`mix ratio: two parts are called "A": give each its own name`:                                                                       with(func(r *Recipe) { r.Parts[1].Name = "A" }),
		`mix ratio: 0 parts of "B" cannot be: give a number above 0, as the 10 and the 1 of 10:1`:                                           with(func(r *Recipe) { r.Parts[1].Ratio = 0 }),
		`mix ratio: -1 parts of "B" cannot be: give a number above 0, as the 10 and the 1 of 10:1`:                                          with(func(r *Recipe) { r.Parts[1].Ratio = -1 }),
		`mix ratio: NaN parts of "B" cannot be: give a number above 0, as the 10 and the 1 of 10:1`:                                         with(func(r *Recipe) { r.Parts[1].Ratio = nan }),
		`mix ratio: +Inf parts of "A" cannot be: give a number above 0, as the 10 and the 1 of 10:1`:                                        with(func(r *Recipe) { r.Parts[0].Ratio = math.Inf(1) }),
		`mix ratio: 5000 to 1 is beyond 1000 to 1: compare it with the data sheet`:                                                          with(func(r *Recipe) { r.Parts[0].Ratio = 5000 }),
		`a ratio tolerance of 2 cannot be: give a share of 1, as 0.02 for 2 %, or 0 where none is stated`:                                   with(func(r *Recipe) { r.Tolerance = 2 }),
		`part "A": a density of -1 g/mL cannot be: give one above 0 to 25, or 0 where none is stated`:                                       with(func(r *Recipe) { r.Parts[0].GramsPerML = -1 }),
		`part "B": a specific heat of 4186 J/(g K) cannot be: give one above 0 to 10, or 0 where none is stated`:                            with(func(r *Recipe) { r.Parts[1].JPerGramK = 4186 }),
		`part "A": a ratio by volume cannot be weighed without a density: take it from the data sheet, or weigh a full measure of the part`: with(func(r *Recipe) { r.Basis = ByVolume }),

		// Additives.
		`an additive is called "A": give it a name that nothing else in the mix has`:                                                          with(add(Additive{Name: "A", Share: 0.1})),
		`additive "thixo" is a share of "C", which is no part of the mix: name a part, or none for all parts together`:                        with(add(Additive{Name: "thixo", Share: 0.1, Of: "C"})),
		`additive "thixo": a share of 3 cannot be: give one above 0 to 1, as 0.01 for 1 %`:                                                    with(add(Additive{Name: "thixo", Share: 3})),
		`additive "thixo": a density of NaN g/mL cannot be: give one above 0 to 25, or 0 where none is stated`:                                with(add(Additive{Name: "thixo", Share: 0.1, GramsPerML: nan})),
		`additive "retarder": a factor of -2 on the times cannot be: give one of 0.01 to 100, 2 for twice as long, or 0 where it leaves them`: with(add(Additive{Name: "retarder", Share: 0.1, TimeFactor: -2})),

		// Weights.
		`a batch of 0 g cannot be: give grams above 0, up to 1e+07`:                                        second(twoParts(10).Batch(0)),
		`a batch of -5 g cannot be: give grams above 0, up to 1e+07`:                                       second(twoParts(10).Batch(-5)),
		`a batch of NaN g cannot be: give grams above 0, up to 1e+07`:                                      second(twoParts(10).Batch(nan)),
		`a batch of +Inf g cannot be: give grams above 0, up to 1e+07`:                                     second(twoParts(10).Batch(math.Inf(1))),
		`a weight of "A" of NaN g cannot be: give grams above 0, up to 1e+07`:                              second(twoParts(10).FromPart("A", nan)),
		`weigh out a batch to 5 g of "C": no part is called that, name one of ["A" "B"]`:                   second(twoParts(10).FromPart("C", 5)),
		`compare weights with the ratio: 1 weights for 2 parts: give one for each of ["A" "B"]`:            second(twoParts(10).Deviation(5)),
		`a weight of "B" of 0 g cannot be: give grams above 0, up to 1e+07`:                                second(twoParts(10).Deviation(5, 0)),
		`density of the mix: none is stated for "A": take it from the data sheet, or give that of the mix`: second(twoParts(10).GramsPerML()),
		`temperature of the mix: 1 temperatures for 2 parts: give one for each of ["A" "B"]`:               second(twoParts(10).MixedC(20)),
		`temperature of the mix: "B" at NaN °C cannot be: give -40 to 200 °C`:                              second(twoParts(10).MixedC(20, nan)),

		// Volumes.
		`a box of 100 x 0 x 50 mm cannot be: give three sides above 0, up to 10000 mm`:                   second(Box{LengthMM: 100, DepthMM: 50}.MilliLiters()),
		`a pattern of -1 mL cannot be: give its volume, or 0 for an empty box`:                           second(Box{10, 10, 10, -1}.MilliLiters()),
		`a pattern of 450 mL leaves nothing of a box of 1 mL: measure both again, in mm and mL`:          second(Box{10, 10, 10, 450}.MilliLiters()),
		`an area of NaN cm² cannot be brushed: give one above 0, up to 1e+06`:                            second(Brushed{nan, 1, 1}.MilliLiters()),
		`a layer of 0 mm cannot be: give a thickness above 0, up to 10000 mm`:                            second(Brushed{100, 0, 1}.MilliLiters()),
		`0 layers cannot be: give 1 to 100`:                                                              second(Brushed{100, 1, 0}.MilliLiters()),
		`a volume of 0 mL cannot be filled: give one above 0, up to 10000 L`:                             second(Grams(0, 1, 0)),
		`a density of 0 g/mL cannot be: give one above 0 to 25, as 1.1 for many rubbers`:                 second(Grams(1, 0, 0)),
		`a waste allowance of 10 cannot be: give a share of what is needed from 0 to 2, as 0.1 for 10 %`: second(Grams(1, 1, 10)),
		`a volume of -1 mL cannot be mixed: give one above 0, up to 10000 L`:                             second(Cup{BrimMilliLiters: 400}.Split(-1)),
		`a cup of 0 mL cannot be: give what it holds to the brim, above 0`:                               second(Cup{}.Split(1)),
		`a cup cannot be filled to 1.5 of its brim: give a share above 0 to 1`:                           second(Cup{BrimMilliLiters: 400, Fill: 1.5}.Split(1)),
		`a cup -1 mm wide cannot be: give a diameter above 0 to 10000 mm, or 0 where it is not told`:     second(Cup{BrimMilliLiters: 400, DiameterMM: -1}.Split(1)),
		`1e+06 mL take 15000 cups of 100 mL: take a larger cup`:                                          second(Cup{BrimMilliLiters: 100}.Split(1e6)),

		// Scales.
		`error of the ratio: a scale with steps of 0 g cannot be: give the step of its display in grams, as 1 or 0.1`:                   second(Scale{}.RatioError(batch, Tared)),
		`error of the ratio: a repeatability of -1 g cannot be: give a standard deviation in grams, or 0 where none is stated`:          second(Scale{StepGrams: 1, RepeatabilityGrams: -1}.RatioError(batch, Tared)),
		`error of the ratio: a scale for NaN g at most cannot be: give grams above 0, or 0 where it is not stated`:                      second(Scale{StepGrams: 1, MaxGrams: nan}.RatioError(batch, Tared)),
		`error of the ratio: weighing 9 is unknown: say tared, running or apart`:                                                        second(Scale{StepGrams: 1}.RatioError(batch, 9)),
		`error of the ratio: the batch is empty: take one from a recipe`:                                                                second(Scale{StepGrams: 1}.RatioError(Batch{}, Tared)),
		`error of the additives: the batch is empty: take one from a recipe`:                                                            second(Scale{StepGrams: 1}.AdditiveErrors(Batch{}, Tared)),
		`error of the ratio: "shellac" comes ready mixed and has no ratio: any scale will do`:                                           second(Scale{StepGrams: 1}.RatioError(mixed.scaled(10), Tared)),
		`smallest batch: the recipe has no tolerance: take that of the ratio from the data sheet, as 0.02 for 2 %`:                      second(Scale{StepGrams: 1}.Smallest(Recipe{Parts: twoParts(1).Parts}, Tared)),
		`round to the display: 0.0909 g of "B" is less than its step of 1 g shows: mix more, or take a finer scale`:                     second(Scale{StepGrams: 1}.Aim(twoParts(10).scaled(1), Tared)),
		`next even batch: a scale with steps of NaN g cannot be: give the step of its display in grams, as 1 or 0.1`:                    second(Scale{StepGrams: nan}.Even(twoParts(10), 1)),
		`judge the scale: 900 g are more than the 500 g it takes: split the batch over several cups`:                                    Scale{StepGrams: 0.1, MaxGrams: 500}.Hold(twoParts(10), 900, Tared),
		`this scale leaves the ratio of B to A up to 8.2 % off, for a tolerance of 2 %: mix 462 g, or take a scale with steps of 0.2 g`: Scale{StepGrams: 1}.Hold(twoParts(10), 110, Tared),
		`this scale leaves the ratio of B to A far off, for a tolerance of 0.1 %: take a much finer scale`:                              Scale{StepGrams: 1000, MaxGrams: 500}.Hold(Recipe{Parts: twoParts(10).Parts, Tolerance: 0.001}, 5, Tared),
	} {
		t.Run(want, func(t *testing.T) { require.EqualError(t, got, want) })
	}
}

func add(a Additive) func(*Recipe) {
	return func(r *Recipe) { r.Additives = append(r.Additives, a) }
}

// A batch that a running sum cannot hold, but parts weighed alone can: 2 sqrt(6/12)/25 = 5.7 %, and
// 2 sqrt(4/12)/25 = 4.6 %.
func TestRefusalNamesWeighingAlone(t *testing.T) {
	r := Recipe{Parts: twoParts(1).Parts, Tolerance: 0.05}
	s := Scale{StepGrams: 1}
	require.EqualError(t, s.Hold(r, 50, Running),
		"this scale leaves the ratio of B to A up to 5.7 % off, for a tolerance of 5 %: mix 58 g, or take a scale with steps of 0.5 g, or weigh each part alone")
	require.NoError(t, s.Hold(r, 50, Apart))
}

// Weights that fall between steps: the uncertainty alone would do, the rounding does not: 19.5 g
// of B become 20, 2.6 % too much.
func TestRefusalNamesAnEvenBatch(t *testing.T) {
	r := Recipe{Parts: twoParts(10).Parts, Tolerance: 0.045}
	s := Scale{StepGrams: 1}
	least, err := s.Smallest(r, Tared)
	require.NoError(t, err)
	require.Less(t, least, 204.0)
	require.EqualError(t, s.Hold(r, 214.5, Tared),
		"this scale leaves the ratio of B to A up to 6.8 % off, for a tolerance of 4.5 %: mix 220 g, or take a scale with steps of 0.5 g")
	require.NoError(t, s.Hold(r, 209, Tared))
}
