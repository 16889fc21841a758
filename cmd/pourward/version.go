package main

import (
	"context"
	"fmt"
	"io"
	"runtime/debug"
	"strings"

	build "github.com/prometheus/common/version"
)

const versionAbout = `Tells which version this is, of which commit and of when it is. Go stamps them when the program is built in
a clone of the repository.`

func version(_ context.Context, args []string, out, errs io.Writer) error {
	fs := flags("version", "", versionAbout, errs)
	if err := parse(fs, args, 0); err != nil {
		return err
	}
	info, _ := debug.ReadBuildInfo() // nil for a program that Go did not build as a module: it is stamped with nothing
	_, err := io.WriteString(out, stamped(info))
	return err
}

// stamped tells what a program was stamped with.
func stamped(info *debug.BuildInfo) string {
	if info == nil {
		info = &debug.BuildInfo{}
	}
	settings := map[string]string{}
	for _, s := range info.Settings {
		settings[s.Key] = s.Value
	}
	or := func(s, instead string) string {
		if s == "" {
			return instead
		}
		return s
	}
	var b strings.Builder
	fmt.Fprintf(&b, "pourward %s\n", or(info.Main.Version, "(devel)"))
	fmt.Fprintf(&b, "commit   %s\n", or(settings["vcs.revision"], "not known"))
	fmt.Fprintf(&b, "of       %s\n", or(settings["vcs.time"], "not known"))
	if settings["vcs.modified"] == "true" {
		b.WriteString("changed  since that commit\n")
	}
	board := settings["GOARCH"]
	if arm := settings["GOARM"]; arm != "" {
		board += " " + arm
	}
	fmt.Fprintf(&b, "built    by %s for %s %s\n", or(info.GoVersion, "not known"), settings["GOOS"], board)
	return b.String()
}

// stampMetrics lets the metric of the build tell the same.
func stampMetrics() {
	if info, ok := debug.ReadBuildInfo(); ok {
		build.Version = info.Main.Version
	}
}
