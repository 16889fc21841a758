package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"

	"pourward/cmd/pourward/internal/config"
	"pourward/dashboards/page"
	"pourward/model/loop"
	"pourward/model/report"
)

const reportAbout = `Writes the record of one mold: the temperatures it had, its marks with their history, what was told of it at
each mark beside what came, and its materials. It is a page to print, or with -csv a table. The config file is
needed beside the journal, which does not hold which probes sit where, how accurate they are, and the shop's own
products. A daemon may keep the journal meanwhile. The page of a mold has the same report.

  pourward report -config shop.yml -mold frieze -o frieze.html`

func reportMold(ctx context.Context, args []string, out, errs io.Writer) error {
	set := flags("report", "", reportAbout, errs)
	var from journalFlags
	from.register(set)
	mold := set.String("mold", "", "the mold's short `name`")
	table := set.Bool("csv", false, "write a table (CSV) instead of a page")
	to := set.String("o", "", "`file` to write; standard output if left out")
	if err := parse(set, args, 0); err != nil {
		return err
	}
	if *mold == "" {
		return errors.New("-mold: say which mold, by its short name")
	}
	c, err := config.Load(from.config)
	if errors.Is(err, fs.ErrNotExist) && from.file != "" {
		return fmt.Errorf("%w; give the shop's with -config: a journal does not hold which probes sit where, how accurate they are, and the shop's own products", err)
	}
	if err != nil {
		return err
	}
	setup, err := setupFrom(c)
	if err != nil {
		return err
	}
	if c.Journal.AskBack > 0 && from.file == "" {
		return fmt.Errorf("the journal of %s keeps marks alone (ask_back): take the report from the page of the mold, while the daemon runs", from.config)
	}
	if from.file == "" {
		from.file = c.Journal.File
	}
	j, err := from.open(ctx)
	if err != nil {
		return err
	}
	defer func() { _ = j.Close(ctx) }() // it was only read
	rep, err := reportFrom(ctx, loop.Past{Setup: setup, Record: j, Log: logger(errs, c.Log.Level, c.Log.JSON)}, *mold)
	if err != nil {
		return err
	}
	return writeFile(*to, out, func(w io.Writer) error {
		if *table {
			return page.WriteReportCSV(w, rep, c.Shop.Zone)
		}
		return page.WriteReport(w, rep, page.Options{Shelf: shelfOf(setup), Zone: c.Shop.Zone, Unit: unitOf(c), ShopName: c.Shop.Name})
	})
}

// reportFrom reads the report of a mold, as of the last reading where it is still in work.
func reportFrom(ctx context.Context, past loop.Past, mold string) (*report.Report, error) {
	_, last, err := past.Record.Span(ctx)
	if err != nil {
		return nil, fmt.Errorf("find the last reading: %w", err)
	}
	return report.Read(ctx, past, mold, last)
}
