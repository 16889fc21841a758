package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"pourward/model"
	"pourward/model/material"
	"pourward/model/mix"
)

// tellBatch writes what to weigh.
func tellBatch(out io.Writer, of material.Material, want model.BatchWant, b model.ToWeigh, forWhat string) {
	fmt.Fprintf(out, "%s: %s g in all", of.Name, grams(b.TotalGrams, want.Scale.StepGrams))
	if b.MilliLiters > 0 {
		fmt.Fprintf(out, ", about %.0f mL", b.MilliLiters)
	}
	if forWhat != "" {
		fmt.Fprintf(out, "; %s", forWhat)
	}
	if want.Waste > 0 && want.MilliLiters > 0 {
		fmt.Fprintf(out, " and %.3g %% more for cup and brush", 100*want.Waste)
	}
	fmt.Fprintln(out)
	if len(b.Recipe.Parts) > 1 {
		fmt.Fprintf(out, "  ratio %s %v (%s)\n", ratioText(b.Recipe), b.Recipe.Basis, ratioSource(of))
	}
	if b.Cups > 1 || b.HeightMM > 0 {
		fmt.Fprintf(out, "  %s, each %s g", several(b.Cups, "cup"), grams(b.Each.TotalGrams, want.Scale.StepGrams))
		if b.HeightMM > 0 {
			fmt.Fprintf(out, ", filled %.0f mm high", b.HeightMM)
		}
		fmt.Fprintln(out, "; each cup is a batch of its own, to weigh alone")
	}
	tellWeights(out, want, b)
	tellScale(out, want, b)
	if f := b.Each.TimeFactor; f != 1 {
		fmt.Fprintf(out, "  times: working life and demold time %.3g-fold, as the additives' makers give it", f)
		if several := slices.IndexFunc(b.Recipe.Additives, func(a mix.Additive) bool { return a.TimeFactor != 0 && a.TimeFactor != f }); several >= 0 {
			fmt.Fprint(out, "; that several multiply is an assumption")
		}
		fmt.Fprintln(out)
	}
	if strings.Contains(forWhat, "layer") && len(b.Recipe.Additives) == 0 {
		fmt.Fprintf(out, "  to brush it: about %g %% of a thixotropic additive makes most pourable rubbers stay where they are brushed (common practice, no source; its own data sheet is better)\n", 100*mix.BrushableShare)
	}
	for _, c := range of.Cautions {
		fmt.Fprintf(out, "  caution: %s\n", c)
	}
}

// coarseShare is how far rounding may move the share of an additive before it is told; an assumption.
const coarseShare = 0.1

// tellWeights writes a line for each thing, in the order it goes in.
func tellWeights(out io.Writer, want model.BatchWant, b model.ToWeigh) {
	all := append(append([]mix.Weight(nil), b.Each.Parts...), b.Each.Additives...)
	for i, w := range all {
		if b.Aim == nil {
			fmt.Fprintf(out, "  weigh %-16s %10s g\n", w.Name, grams(w.Grams, 0))
			continue
		}
		fmt.Fprintf(out, "  weigh %-16s %10s g", w.Name, grams(b.Aim.Weights[i].Grams, want.Scale.StepGrams))
		if want.Way == mix.Running {
			fmt.Fprintf(out, ", the display then shows %s g", grams(b.Aim.Readings[i], want.Scale.StepGrams))
		}
		if off := math.Abs(b.Aim.Weights[i].Grams/w.Grams - 1); i >= len(b.Each.Parts) && off > coarseShare {
			fmt.Fprintf(out, " instead of %s g: take a finer scale for it", grams(w.Grams, 0))
		}
		fmt.Fprintln(out)
	}
}

// tellScale writes whether the ratio holds, and what to do where it does not.
func tellScale(out io.Writer, want model.BatchWant, b model.ToWeigh) {
	if b.Unjudged != "" {
		fmt.Fprintf(out, "  scale not judged: %s\n", b.Unjudged)
		return
	}
	verdict := "holds"
	if b.Coarse != nil {
		verdict = "DOES NOT HOLD"
	}
	fmt.Fprintf(out, "  ratio %s: up to %.2g %% off on a scale with steps of %g g, %v; tolerated %.2g %%\n",
		verdict, 100*b.Off, want.Scale.StepGrams, want.Way, 100*b.Recipe.Tolerance)
	if b.Least > 0 {
		step := want.Scale.StepGrams
		fmt.Fprintf(out, "  smallest batch that holds: %s g\n", grams(b.Least, step))
	}
	if c := b.Coarse; c != nil {
		fmt.Fprintf(out, "  %s\n", c.Error())
	}
}

// grams writes a weight to the step of a scale, or to four figures where there is none.
func grams(g, step float64) string {
	if step > 0 {
		return strconv.FormatFloat(g, 'f', decimals(step), 64)
	}
	if g >= 1000 {
		return strconv.FormatFloat(g, 'f', 0, 64)
	}
	return strconv.FormatFloat(g, 'g', 4, 64)
}

// decimals is how many places a display with these steps has.
func decimals(step float64) int {
	for d := range 6 {
		if x := step * math.Pow10(d); math.Abs(x-math.Round(x)) < 1e-9 {
			return d
		}
	}
	return 6
}

func ratioText(r mix.Recipe) string {
	names, numbers := make([]string, len(r.Parts)), make([]string, len(r.Parts))
	for i, p := range r.Parts {
		names[i], numbers[i] = p.Name, fmt.Sprintf("%g", p.Ratio)
	}
	return strings.Join(names, ":") + " = " + strings.Join(numbers, ":")
}

func ratioSource(of material.Material) string {
	if len(of.Mixing.Parts) == 0 {
		return "as you gave it"
	}
	return of.Mixing.Source.String()
}
