package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"pourward/cmd/pourward/internal/config"
	"pourward/model"
	"pourward/model/material"
	"pourward/model/mix"
)

const batchAbout = `Tells what to weigh, as the scale can show it, and whether the ratio then holds. How much is told in one of
four ways: grams, a volume, a part to use up, or a mold on record whose size was told when it was begun.

  pourward batch -material my-slow-rubber -materials mine.yml -grams 550 -step 1
  pourward batch -material platinum-slow -ratio "A 10, B 1" -tolerance "2 %" -ml 2400 -waste "10 %" -step 0.1
  pourward batch -config shop.yml -mold frieze -additives "thixotropic 1 %, retarder 0.5 % of B x1.5"
  pourward batch -config shop.yml -material my-slow-rubber -use-up "A 430 g" -cup-ml 1000 -cup-mm 110`

// batchFlags are what a batch is asked by.
type batchFlags struct {
	config, materials, material, mold         string
	grams, ml, boxMM, patternML               string
	areaCM2, layerMM                          string
	useUp, additives, ratio, tolerance, waste string
	cupML, cupMM, step, repeatability, most   string
	way                                       string
	by                                        *dial
}

func batch(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("batch", "", batchAbout, errs)
	f := batchFlags{by: dialFlags(fs)}
	for _, one := range []struct {
		to                   *string
		name, usually, about string
	}{
		{&f.config, "config", "", "the daemon's config `file`: it names the scale and the maker's own materials"},
		{&f.materials, "materials", "", "the maker's own `file` of materials, instead of the config's"},
		{&f.material, "material", "", "the `material`; left out, the rubber of -mold"},
		{&f.mold, "mold", "", "a `mold` on record, asked of the daemon"},
		{&f.grams, "grams", "", "`grams` in all, additives included"},
		{&f.ml, "ml", "", "`volume` to fill in mL"},
		{&f.boxMM, "box-mm", "", "`sides` of the box inside, such as 300x200x60: length, width, depth up to which it is filled"},
		{&f.patternML, "pattern-ml", "", "`volume` of the pattern in that box in mL"},
		{&f.areaCM2, "area-cm2", "", "`face` to brush in cm², its folds included"},
		{&f.layerMM, "layer-mm", "", "`thickness` of the layer on it in mm"},
		{&f.useUp, "use-up", "", "the `part` to use up and its grams, such as \"A 430 g\""},
		{&f.additives, "additives", "", "`shares` of additives, and their makers' factors on the times: \"thixotropic 1 %, retarder 0.5 % of B x1.5\""},
		{&f.ratio, "ratio", "", "`ratio` by weight where the material is a built-in class: \"A 10, B 1\""},
		{&f.tolerance, "tolerance", "", "relative `error` that this ratio may have, such as \"2 %\""},
		{&f.waste, "waste", "0 %", "`share` more than a volume needs, for cup and brush"},
		{&f.cupML, "cup-ml", "", "what a cup holds to the `brim` in mL"},
		{&f.cupMM, "cup-mm", "", "its `width` inside in mm, for the height to fill it to"},
		{&f.step, "step", "", "the scale's `step` in g, instead of the config's"},
		{&f.repeatability, "repeatability", "", "its repeatability in `g`, one standard deviation"},
		{&f.most, "max", "", "the most it takes in `g`"},
		{&f.way, "weighing", "zeroed", "`how`: zeroed before each thing, running sum, or apart"},
	} {
		fs.StringVar(one.to, one.name, one.usually, one.about)
	}
	if err := parse(fs, args, 0); err != nil {
		return err
	}
	of, want, forWhat, err := f.want(ctx)
	if err != nil {
		return err
	}
	told, err := model.WeighOut(of, want)
	if err != nil {
		return err
	}
	tellBatch(out, of, want, told, forWhat)
	return nil
}

// want reads the flags, and the mold they name from the daemon.
func (f *batchFlags) want(ctx context.Context) (of material.Material, w model.BatchWant, forWhat string, err error) {
	var design model.Design
	if f.mold != "" {
		rubber := ""
		if rubber, design, err = askMold(ctx, f.by, f.mold); err != nil {
			return of, w, "", err
		}
		if f.material == "" {
			f.material = rubber
		}
	}
	shop := &config.Config{}
	if f.config != "" {
		if shop, err = config.Load(f.config); err != nil {
			return of, w, "", err
		}
	}
	if f.materials == "" {
		f.materials = shop.Materials
	}
	shelf, err := shelfFrom(f.materials)
	if err != nil {
		return of, w, "", err
	}
	if f.material == "" {
		return of, w, "", errors.New("say what is mixed: give -material, or -mold with a rubber planned")
	}
	if of, err = shelf.Find(f.material); err != nil {
		return of, w, "", err
	}
	if w, err = f.plain(scaleFrom(shop)); err != nil {
		return of, w, "", err
	}
	forWhat, err = f.amount(&w, design)
	return of, w, forWhat, err
}

// plain reads what needs no mold.
func (f *batchFlags) plain(scale mix.Scale) (w model.BatchWant, err error) {
	w.Scale = scale
	for _, n := range []struct {
		name, typed string
		to          *float64
	}{
		{"grams", f.grams, &w.Grams}, {"ml", f.ml, &w.MilliLiters}, {"cup-ml", f.cupML, &w.Cup.BrimMilliLiters},
		{"cup-mm", f.cupMM, &w.Cup.DiameterMM}, {"step", f.step, &w.Scale.StepGrams},
		{"repeatability", f.repeatability, &w.Scale.RepeatabilityGrams}, {"max", f.most, &w.Scale.MaxGrams},
	} {
		if err := above0(n.name, n.typed, n.to); err != nil {
			return w, err
		}
	}
	for _, p := range []struct {
		name, typed string
		to          *float64
	}{{"waste", f.waste, &w.Waste}, {"tolerance", f.tolerance, &w.Tolerance}} {
		if p.typed == "" {
			continue
		}
		share, err := config.ParsePercent(p.typed)
		if err != nil {
			return w, fmt.Errorf("-%s: %w", p.name, err)
		}
		*p.to = float64(share)
	}
	if w.Additives, err = model.ParseShares(f.additives); err != nil {
		return w, fmt.Errorf("-additives: %w", err)
	}
	if w.Way, err = weighingFrom(f.way); err != nil {
		return w, err
	}
	w.Ratio, err = ratioFrom(f.ratio)
	return w, err
}

// above0 reads a number above 0; nothing leaves it as it was.
func above0(name, typed string, to *float64) error {
	if typed == "" {
		return nil
	}
	v, err := strconv.ParseFloat(typed, 64)
	if err != nil || !(v > 0) {
		return fmt.Errorf("-%s: %q is no number above 0: write plain digits, such as 430 or 0.1", name, typed)
	}
	*to = v
	return nil
}

func weighingFrom(s string) (mix.Weighing, error) {
	ways := map[string]mix.Weighing{"zeroed": mix.Tared, "running": mix.Running, "running sum": mix.Running, "apart": mix.Apart}
	way, ok := ways[s]
	if !ok {
		return 0, fmt.Errorf("-weighing: %q is no way to weigh: write zeroed, running or apart", s)
	}
	return way, nil
}

// ratioFrom reads a ratio as a list of names and numbers.
func ratioFrom(s string) ([]mix.Part, error) {
	all, err := model.ParsePortions(s)
	if err != nil {
		return nil, fmt.Errorf("-ratio: %q is no ratio: write names and numbers, such as A 10, B 1", s)
	}
	var out []mix.Part
	for _, p := range all {
		out = append(out, mix.Part{Name: p.Name, Ratio: p.Grams})
	}
	return out, nil
}

// amount reads how much there is to be, and tells what for.
func (f *batchFlags) amount(w *model.BatchWant, design model.Design) (forWhat string, err error) {
	if f.useUp != "" {
		all, err := model.ParsePortions(f.useUp)
		if err != nil || len(all) != 1 || !(all[0].Grams > 0) {
			return "", fmt.Errorf("-use-up: %q names no part to use up: write its name and grams, such as A 430 g", f.useUp)
		}
		w.UseUp = all[0]
		return fmt.Sprintf("uses up %s g of %s", grams(w.UseUp.Grams, 0), w.UseUp.Name), nil
	}
	if f.boxMM != "" || f.areaCM2 != "" {
		if design, err = f.design(); err != nil {
			return "", err
		}
	} else if f.mold == "" || w.Grams > 0 || w.MilliLiters > 0 {
		return "", nil
	}
	w.MilliLiters, forWhat, err = design.BatchML()
	if err == nil {
		forWhat = fmt.Sprintf("fills %s, %.0f mL", forWhat, w.MilliLiters)
	}
	return forWhat, err
}

// design is a size given by flags.
func (f *batchFlags) design() (d model.Design, err error) {
	if f.boxMM != "" {
		sides := strings.Split(strings.ToLower(f.boxMM), "x")
		if len(sides) != 3 {
			return d, fmt.Errorf("-box-mm: %q has no three sides: write length, width and depth in mm, such as 300x200x60", f.boxMM)
		}
		for i, to := range []*float64{&d.LengthMM, &d.WidthMM, &d.DepthMM} {
			if err := above0("box-mm", sides[i], to); err != nil {
				return d, err
			}
		}
		return d, above0("pattern-ml", f.patternML, &d.PatternML)
	}
	return d, errors.Join(above0("area-cm2", f.areaCM2, &d.AreaCM2), above0("layer-mm", f.layerMM, &d.LayerMM))
}

// askMold asks the daemon what a mold is to be of, and how large it is.
func askMold(ctx context.Context, by *dial, name string) (rubber string, d model.Design, err error) {
	var told struct {
		Molds []struct {
			Name, Rubber string
			Marks        []struct{ Design *model.Design }
		}
	}
	if err := by.ask(ctx, "/snapshot.json", nil, &told); err != nil {
		return "", d, err
	}
	for _, m := range told.Molds {
		if m.Name != name {
			continue
		}
		for _, mark := range m.Marks {
			if mark.Design != nil {
				d = *mark.Design
			}
		}
		return m.Rubber, d, nil
	}
	return "", d, fmt.Errorf("no mold called %q is in work there", name)
}

func scaleFrom(c *config.Config) mix.Scale {
	if c.Scale == nil {
		return mix.Scale{}
	}
	return mix.Scale{StepGrams: c.Scale.StepGrams, RepeatabilityGrams: c.Scale.RepeatabilityGrams, MaxGrams: c.Scale.MaxGrams}
}
