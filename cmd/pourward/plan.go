package main

import (
	"context"
	"fmt"
	"io"
	"net/url"
	"strings"
	"text/tabwriter"
)

const planAbout = `Reckons back from "demolded by", along every way that the daemon's forecast sees the air go: the latest start that
holds on nine in ten of them, the time line, and what heat would buy. COURSE names materials in order, a number
before one how many coats or brushed layers; a mold, a casting from it and the mold of that are one course.

  pourward plan -by "Fri 17:00" "2 lacquer, wax-naphtha, platinum-slow"
  pourward plan -by "Fri 17:00" -heat "22 °C" -heat-from "Thu 8:00" "3 platinum-slow"
  pourward plan -by "Sat 12:00" "wax-spirit, tin-silicone, wax-spirit, polyurethane-resin, lacquer, wax-naphtha, platinum-slow"`

func planBack(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("plan", " COURSE", planAbout, errs)
	d := dialFlags(fs)
	q := url.Values{}
	for name, about := range map[string]string{
		"by":         "when it is to be demolded: a `time` such as Fri 17:00, tomorrow 12:00, in 30 h",
		"place":      "the `place` whose air it is; the first one if left out",
		"begin":      "tell of this `start` instead of the latest that holds",
		"work":       "working `hours`, such as \"mon-fri 08:00-17:00; sat 09:00-12:00\"; the shop's own if left out",
		"heat":       "compare with the place held at this `temperature`, such as \"22 °C\"",
		"heat_from":  "heated from this `time` on; from now on if left out",
		"heat_hours": "heated in these `hours` only; day and night if left out",
	} {
		fs.Func(strings.ReplaceAll(name, "_", "-"), about, func(v string) error { q.Set(name, v); return nil })
	}
	if err := parse(fs, args, 1); err != nil {
		return err
	}
	q.Set("course", fs.Arg(0))
	var p toldPlan
	if err := d.ask(ctx, "/plan?"+q.Encode(), nil, &p); err != nil {
		return err
	}
	return p.write(out)
}

// toldPlan is a plan as the daemon tells it.
type toldPlan struct {
	Told     []string
	Heat     string
	Cautions []string
	Actions  []struct{ Title, Material, At, Between, Why string }
}

// write writes the plan with its time line.
func (p toldPlan) write(out io.Writer) error {
	for _, says := range append(p.Told, p.Heat) {
		fmt.Fprintln(out, says)
	}
	if len(p.Actions) > 0 {
		fmt.Fprintln(out)
		lines := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(lines, "planned\teight in ten\twhat\tof\twhen")
		for _, a := range p.Actions {
			fmt.Fprintf(lines, "%s\t%s\t%s\t%s\t%s\n", a.At, a.Between, a.Title, a.Material, a.Why)
		}
		if err := lines.Flush(); err != nil {
			return fmt.Errorf("write the time line: %w", err)
		}
	}
	fmt.Fprintln(out)
	for _, c := range p.Cautions {
		fmt.Fprintf(out, "Caution: %s\n", c)
	}
	fmt.Fprintln(out, "The product's own safety data sheet decides.")
	return nil
}
