package main

import (
	"context"
	"fmt"
	"io"
	"net/url"
	"strconv"
	"strings"
	"time"

	"pourward/cmd/pourward/internal/config"
)

const linkAbout = `Lets someone look at one mold: makes an address that shows how this mold stands and nothing else, until it
expires or is revoked. The address is told once; whoever has it can look.

  pourward link -mold frieze -for 7d
  pourward link -list
  pourward link -revoke 3f9a01c2`

func link(ctx context.Context, args []string, out, errs io.Writer) error {
	fs := flags("link", "", linkAbout, errs)
	d := dialFlags(fs)
	mold := fs.String("mold", "", "the mold's short `name`")
	lasts := fs.String("for", "7d", "how `long` the link opens, up to 90d")
	list := fs.Bool("list", false, "tell which links are open")
	revoke := fs.String("revoke", "", "close the link of this `number` now")
	if err := parse(fs, args, 0); err != nil {
		return err
	}
	switch {
	case *list:
		return listLinks(ctx, d, out)
	case *revoke != "":
		return revokeLink(ctx, d, *revoke, out)
	case *mold == "":
		return fmt.Errorf("-mold: say which mold the link shows, e.g. -mold frieze")
	}
	return makeLink(ctx, d, *mold, *lasts, out)
}

// toldLink is a link as the daemon tells it.
type toldLink struct {
	ID, Mold, By, Path string
	Until              time.Time
}

func (l toldLink) String() string {
	text := fmt.Sprintf("%s  %s until %s", l.ID, l.Mold, l.Until.Local().Format(time.DateTime))
	if l.By != "" {
		text += ", by " + l.By
	}
	return text
}

func makeLink(ctx context.Context, d *dial, mold, lasts string, out io.Writer) error {
	span, err := config.ParseDuration(lasts)
	if err != nil {
		return fmt.Errorf("-for: %w", err)
	}
	var made toldLink
	form := url.Values{"mold": {mold}, "seconds": {strconv.FormatInt(int64(span.Seconds()), 10)}}
	if err := d.ask(ctx, "/links", form, &made); err != nil {
		return err
	}
	fmt.Fprintf(out, "%s\n%s\n", made, strings.TrimRight(d.to, "/")+made.Path)
	return nil
}

func listLinks(ctx context.Context, d *dial, out io.Writer) error {
	var told struct{ Links []toldLink }
	if err := d.ask(ctx, "/links", nil, &told); err != nil {
		return err
	}
	if len(told.Links) == 0 {
		fmt.Fprintln(out, "no link is open")
	}
	for _, l := range told.Links {
		fmt.Fprintln(out, l)
	}
	return nil
}

func revokeLink(ctx context.Context, d *dial, id string, out io.Writer) error {
	var gone toldLink
	if err := d.ask(ctx, "/links/revoke", url.Values{"id": {id}}, &gone); err != nil {
		return err
	}
	fmt.Fprintf(out, "link %s to %s opens nothing any more\n", gone.ID, gone.Mold)
	return nil
}
