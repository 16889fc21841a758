package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"pourward/cmd/pourward/internal/shelf"
	"pourward/model/material"
)

const materialsAbout = `Lists the materials that marks may name, with their times and where each number is from. With -file a
maker's own file is listed too. "materials check FILE" judges a file; "materials -example" prints one to
start from.`

func materials(_ context.Context, args []string, out, errs io.Writer) error {
	if len(args) > 0 && args[0] == "check" {
		return checkMaterials(args[1:], out, errs)
	}
	fs := flags("materials", "", materialsAbout, errs)
	file := fs.String("file", "", "a maker's own `file`")
	example := fs.Bool("example", false, "print an example file to start from")
	if err := parse(fs, args, 0); err != nil {
		return err
	}
	if *example {
		_, err := out.Write(shelf.Example())
		return err
	}
	all, err := shelfFrom(*file)
	if err != nil {
		return err
	}
	for _, name := range all.Names() {
		m, err := all.Find(name)
		if err != nil {
			return err
		}
		tellMaterial(out, m)
	}
	return nil
}

func checkMaterials(args []string, out, errs io.Writer) error {
	fs := flags("materials check", " FILE", materialsAbout, errs)
	if err := parse(fs, args, 1); err != nil {
		return err
	}
	mine, err := shelf.Load(fs.Arg(0))
	if err != nil {
		return err
	}
	names := make([]string, len(mine))
	for i, m := range mine {
		names[i] = m.Name
	}
	fmt.Fprintf(out, "%s is sound: %s\n", fs.Arg(0), strings.Join(names, ", "))
	return nil
}

// shelfFrom is the built-in classes with a maker's own materials; no file means the classes alone.
func shelfFrom(file string) (*material.Shelf, error) {
	all := material.Generic()
	if file == "" {
		return all, nil
	}
	mine, err := shelf.Load(file)
	if err != nil {
		return nil, err
	}
	return all.With(mine...), nil
}

func tellMaterial(out io.Writer, m material.Material) {
	fmt.Fprintf(out, "%s: %s\n", m.Name, m.Title)
	for _, f := range m.Facts() {
		fmt.Fprintf(out, "  %s: %s", f.What, f.Text(bothScales))
		if f.Source != (material.Source{}) {
			fmt.Fprintf(out, " (%s)", f.Source)
		}
		fmt.Fprintln(out)
	}
	for _, c := range m.Cautions {
		fmt.Fprintf(out, "  caution: %s\n", c)
	}
}

func bothScales(c float64) string { return fmt.Sprintf("%g °C (%g °F)", c, math.Round(c*18+320)/10) }
