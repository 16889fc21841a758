package main

import (
	"context"
	"fmt"
	"io"
	"net/url"
	"strconv"
	"strings"
)

const markAbout = `Enters what was done at the bench. KIND is begun, coat-on, release-on, mixed, poured, layer-on, moved, patch-on,
checked, demolded or withdrawn. The mark is safe on disk when its number is told.

  pourward mark -mold frieze -place bench -material platinum-slow begun
  pourward mark -mold frieze -material lacquer -at "20 min ago" coat-on
  pourward mark -mold frieze -parts "A 1000 g, B 100 g" -from shelf mixed
  pourward mark -mold frieze -of cup -found tacky checked
  pourward mark -mold frieze -place "warm box" moved
  pourward mark -mold p1 -place bench -face "oil clay" -prep "lacquer, lacquer, wax-naphtha" -material platinum-slow patch-on
  pourward mark -mold frieze -corrects 7 -at 19:40 poured`

func mark(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("mark", " KIND", markAbout, errs)
	d := dialFlags(fs)
	form := url.Values{}
	for name, about := range map[string]string{
		"mold":     "the short `name` of the mold or patch",
		"at":       "when it happened: a `time` such as 19:40, yesterday 19:40, 20 min ago, 2026-01-14 19:40; now if left out",
		"corrects": "`number` of the mark that this one replaces, or that never happened (withdrawn)",
		"title":    "begun: the mold's `name` for people",
		"place":    "begun, patch-on: the `place` where it stands; moved: where to",
		"surface":  "begun, moved: the `place` of a probe on the pattern",
		"material": "begun, coat-on, release-on, mixed, patch-on: the `material`",
		"of":       "checked: `what` was touched: cup, patch, mold or coat",
		"found":    "checked: `what` was found: firm, tacky, liquid or \"surface spoiled\"",
		"note":     "anything worth keeping",

		"pattern":    "begun: what the pattern is made of: `plaster`, oil clay, wood, ...",
		"pattern_mm": "begun: its `thickness` in mm",
		"rubber_mm":  "begun: the `thickness` of the rubber in mm; with it the lag behind the air is reckoned",
		"shell":      "begun: what lies on the rubber, such as `wood` for a box",
		"shell_mm":   "begun: its `thickness` in mm",
		"probe_in":   "begun: `where` the probe of -surface sits: pattern or rubber; pattern if left out",

		"method":     "begun: `how` it is made: block, brushed or glove",
		"coats":      "begun: how `many` seal coats are to go on",
		"layers":     "begun: how `many` layers are to be brushed on",
		"layer_mm":   "begun: the `thickness` of one layer in mm",
		"length_mm":  "begun: the `length` of the box inside, in mm",
		"width_mm":   "begun: its `width` in mm",
		"depth_mm":   "begun: the `depth` in mm up to which it is filled",
		"pattern_ml": "begun: the `volume` of the pattern below that, in mL",
		"area_cm2":   "begun: the `face` to brush, its folds included, in cm²",

		"film_um": "coat-on, release-on: the `thickness` of the dry film it makes, in µm, where the data sheet states one",

		"face":      "begun, patch-on: what the `face` is that the rubber meets, such as oil clay",
		"prep":      "patch-on: coats and release on that face in order, such as `lacquer,wax-naphtha`; bare if left out",
		"parts":     "mixed, patch-on: what was `weighed`, such as \"A 1000 g, B 100 g\"",
		"additives": "mixed, patch-on: what else went in, with its `weight` and its maker's factor on the times: \"retarder 5 g x1.5\"",
		"lot":       "mixed, patch-on: the `lot` on the containers",
		"from":      "mixed, patch-on: the `place` where the parts stood",
	} {
		fs.Func(strings.ReplaceAll(name, "_", "-"), about, func(v string) error { form.Set(name, v); return nil })
	}
	if err := parse(fs, args, 1); err != nil {
		return err
	}
	form.Set("kind", fs.Arg(0))
	if n := form.Get("corrects"); n != "" {
		if _, err := strconv.ParseInt(n, 10, 64); err != nil {
			return fmt.Errorf("-corrects: %q is not the number of a mark", n)
		}
	}
	var answer struct {
		ID   int64
		Told string
	}
	if err := d.ask(ctx, "/marks", form, &answer); err != nil {
		return err
	}
	fmt.Fprintf(out, "mark %d is safe: %s\n", answer.ID, answer.Told)
	return nil
}
