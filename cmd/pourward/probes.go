package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"

	"pourward/sensors"
	"pourward/sensors/kernel"
)

const probesAbout = `Lists the probes that this board offers, and with -broker those that send messages, each with what it
measures now and lines for the config file. Nothing is written to a chip unless -measure says so. Stop a
daemon that measures on the same I²C buses first: a question between its command and its answer would spoil
the answer.`

// probesFlags are what the listing is told.
type probesFlags struct {
	root    string
	measure string
	unit    string
	broker  brokerFlags
	open    boardOpener
}

func probes(ctx context.Context, args []string, out, errs io.Writer) error {
	f := probesFlags{open: openBoard}
	set := flags("probes", "", probesAbout, errs)
	set.StringVar(&f.root, "root", "/", "`folder` below which dev and sys lie")
	set.StringVar(&f.measure, "measure", "none", "`which` chips on I²C buses to measure with, and so to write to: none, sure (those known for certain) or all")
	set.StringVar(&f.unit, "unit", "C", "`unit` of temperatures: C or F")
	f.broker.register(set)
	if err := parse(set, args, 0); err != nil {
		return err
	}
	return f.run(ctx, out)
}

// run looks everywhere, measures, and tells.
func (f probesFlags) run(ctx context.Context, out io.Writer) error {
	if f.measure != "none" && f.measure != "sure" && f.measure != "all" {
		return fmt.Errorf("-measure: %q is none of none, sure and all", f.measure)
	}
	if f.unit != "C" && f.unit != "F" {
		return fmt.Errorf("-unit: %q is neither C nor F", f.unit)
	}
	root, err := filepath.Abs(f.root) // the lines for the config file must hold wherever that lies
	if err != nil {
		return fmt.Errorf("-root: %w", err)
	}
	f.root = root
	var all []*corner
	for _, look := range []func(context.Context) ([]*corner, error){f.buses, f.thermometers, f.monitored, f.industrial, f.senders} {
		found, err := look(ctx)
		if err != nil {
			return err
		}
		all = append(all, found...)
	}
	n := 0
	for _, c := range all {
		for _, t := range c.things {
			if t.kind != "" {
				n++
				t.name = fmt.Sprintf("probe-%d", n)
			}
		}
	}
	if err := measureThings(ctx, f.open, all); err != nil {
		return err
	}
	tellCorners(out, all, teller{fahrenheit: f.unit == "F"})
	return ctx.Err()
}

// corner is one place of the board, or a broker, where probes may be.
type corner struct {
	title  string
	things []*thing
	note   string // about the corner as a whole; empty for none
}

// thing is what was found in a corner.
type thing struct {
	title   string
	note    string // what was seen and what was left alone; empty for none
	kind    string // its kind as the config has it, such as "w1: {id: 28-000005e2fdc3}"; empty when it is no probe
	name    string // in the lines for the config
	asked   bool   // measure with it
	reading *sensors.Reading
}

// lines are for the config's list of probes.
func (t *thing) lines() string { return fmt.Sprintf("- {name: %s, place: bench, %s}", t.name, t.kind) }

func (c *corner) add(t *thing) { c.things = append(c.things, t) }

// thermometers are those of the kernel's 1-wire driver.
func (f probesFlags) thermometers(context.Context) ([]*corner, error) {
	root := filepath.Join(f.root, kernel.W1Root)
	c := &corner{title: "Thermometers of the kernel's 1-wire driver, in " + root}
	names, err := kernel.ListW1(root)
	for _, name := range names {
		c.add(&thing{title: name, asked: true, kind: fmt.Sprintf("w1: {%sid: %s}", rootKey(root, kernel.W1Root), name)})
	}
	return c.seen(err, "a thermometer shows here once the board's settings enable 1-wire")
}

// monitored are the chips under hwmon.
func (f probesFlags) monitored(context.Context) ([]*corner, error) {
	root := filepath.Join(f.root, kernel.HwmonRoot)
	c := &corner{title: "Chips under the kernel's hwmon, in " + root, note: "a chip of the board itself tells the board's own heat"}
	listed, err := kernel.ListHwmon(root)
	for _, l := range listed {
		c.add(&thing{title: l.Name, asked: true, kind: fmt.Sprintf("hwmon: {%sname: %q}", rootKey(root, kernel.HwmonRoot), l.Name)})
	}
	return c.seen(err, "")
}

// industrial are the chips under iio.
func (f probesFlags) industrial(context.Context) ([]*corner, error) {
	root := filepath.Join(f.root, kernel.IIORoot)
	c := &corner{title: "Chips under the kernel's iio, in " + root}
	listed, err := kernel.ListIIO(root)
	for _, l := range listed {
		unit := ""
		if l.Humidity == kernel.WholePercent {
			unit = ", humidity: percent"
		}
		c.add(&thing{title: l.Name, asked: true, kind: fmt.Sprintf("iio: {%sname: %q%s}", rootKey(root, kernel.IIORoot), l.Name, unit)})
	}
	return c.seen(err, "")
}

// rootKey is the key for a root that is not the usual one.
func rootKey(root, usual string) string {
	if root == usual {
		return ""
	}
	return fmt.Sprintf("root: %q, ", root)
}

// seen is the corner after a look at it. One that is not there is empty; hint says how it is had.
func (c *corner) seen(err error, hint string) ([]*corner, error) {
	switch {
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		c.note = err.Error()
	case len(c.things) == 0:
		c.note = hint
	}
	return []*corner{c}, nil
}

// tellCorners writes what was found.
func tellCorners(out io.Writer, all []*corner, t teller) {
	probes := 0
	for i, c := range all {
		if i > 0 {
			fmt.Fprintln(out)
		}
		fmt.Fprintln(out, c.title)
		if len(c.things) == 0 {
			fmt.Fprintln(out, "  nothing found")
		}
		for _, th := range c.things {
			th.tell(out, t)
			if th.kind != "" {
				probes++
			}
		}
		if c.note != "" {
			fmt.Fprintf(out, "  (%s)\n", c.note)
		}
	}
	if probes > 0 {
		fmt.Fprintln(out, "\nThe lines that begin with - go under probes: in the config file; say in each where the probe sits.")
		fmt.Fprintln(out, "What is told as measured was read with just these lines, as the daemon would.")
	}
}

func (t *thing) tell(out io.Writer, in teller) {
	fmt.Fprintf(out, "  %s\n", t.title)
	if t.note != "" {
		fmt.Fprintf(out, "      %s\n", t.note)
	}
	switch {
	case t.reading != nil:
		fmt.Fprintf(out, "      %s\n", in.reading(*t.reading))
	case t.asked:
		fmt.Fprintln(out, "      not measured: the time was over")
	}
	if t.kind != "" {
		fmt.Fprintf(out, "      %s\n", t.lines())
	}
}

// reading tells what was measured, and how far it can be trusted.
func (t teller) reading(r sensors.Reading) string {
	if r.Err != nil {
		return "measured nothing: " + r.Err.Error()
	}
	var parts []string
	if r.Temp.Quality != sensors.Missing {
		parts = append(parts, t.temp(r.Temp.Value)+trust(r.Temp))
	}
	if r.Humidity.Quality != sensors.Missing {
		parts = append(parts, fmt.Sprintf("%.0f %% relative humidity", 100*r.Humidity.Value)+trust(r.Humidity))
	}
	return "measured " + strings.Join(parts, ", ")
}

func trust(m sensors.Measure) string {
	if m.OK() {
		return " (" + m.Quality.String() + ")"
	}
	return fmt.Sprintf(" (%s: %s)", m.Quality, m.Fault)
}
