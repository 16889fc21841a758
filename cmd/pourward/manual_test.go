package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the files that are made from the program anew")

// described is a command as it describes itself.
type described struct {
	io.Writer
	command
	arguments, text string
	flags           []*flag.Flag
}

func (d *described) describe(arguments, about string, fs *flag.FlagSet) {
	d.arguments, d.text = arguments, about
	fs.VisitAll(func(f *flag.Flag) { d.flags = append(d.flags, f) })
}

// allDescribed asks every command for its description.
func allDescribed(t *testing.T) (out []*described) {
	t.Helper()
	t.Setenv("XDG_CACHE_HOME", "/HOME/.cache") // in a default; see withHome
	for _, c := range commands() {
		d := &described{Writer: io.Discard, command: c}
		require.ErrorIs(t, c.run(t.Context(), []string{"-h"}, io.Discard, d), flag.ErrHelp)
		require.NotEmpty(t, d.text, c.name)
		out = append(out, d)
	}
	return out
}

// withHome writes the home folder as a person would.
func withHome(s string) string { return strings.ReplaceAll(s, "/HOME/", "~/") }

// The manual page and the completions that are installed are made of what the commands tell about
// themselves. -update writes them anew.
func TestManualAndCompletionTellWhatTheCommandsDo(t *testing.T) {
	all := allDescribed(t)
	for name, text := range map[string]string{
		"pourward.1": manualPage(all), "pourward.bash": forBash(all), "pourward.zsh": forZsh(all), "pourward.fish": forFish(all),
	} {
		file := filepath.Join("packaging", name)
		if *update {
			require.NoError(t, os.WriteFile(file, []byte(text), 0o644))
		}
		golden, err := os.ReadFile(file)
		require.NoError(t, err)
		require.Equal(t, string(golden), text, "%s is not what the commands tell now: read the difference, then run with -update", file)
	}
}

// mandoc judges the page as a renderer would: it names what is no roff.
func TestManualPageIsSound(t *testing.T) {
	cmd := exec.Command("mandoc", "-Tlint", "-Wwarning", filepath.Join("packaging", "pourward.1"))
	out, err := cmd.CombinedOutput()
	require.False(t, errors.Is(err, exec.ErrNotFound), "needs mandoc (Debian package mandoc)")
	require.NoError(t, err, "%s", out)
}

// manualPage is the page for man, in the macros of man(7).
func manualPage(all []*described) string {
	var b strings.Builder
	b.WriteString(`.\" Made by go test ./cmd/pourward -run Manual -update; do not edit.
.TH POURWARD 1 2026-01-15 Pourward
.SH NAME
pourward \- keep watch over a mold maker's shop
.SH SYNOPSIS
.B pourward
.I command
.RI [ flags ]
.SH DESCRIPTION
Pourward reads temperature and humidity probes at the bench and tells whether the shop is fit to pour, whether a
coat is dry, how much working life is left, and when the mold may come off.
.SH COMMANDS
`)
	for _, d := range all {
		fmt.Fprintf(&b, ".SS \"pourward %s%s%s\"\n%s.\n.PP\n", roff(d.name), flagsOf(d), roff(d.arguments), roff(strings.ToUpper(d.about[:1])+d.about[1:]))
		b.WriteString(roffText(d.text))
		for _, f := range d.flags {
			value, usage := flag.UnquoteUsage(f)
			if value != "" {
				value = ` \fI` + roff(value) + `\fR`
			}
			if f.DefValue != "" && f.DefValue != "false" && f.DefValue != "0" && f.DefValue != "0s" {
				usage += " (" + withHome(f.DefValue) + " if left out)"
			}
			fmt.Fprintf(&b, ".TP\n\\fB\\-%s\\fR%s\n%s\n", roff(f.Name), value, roff(usage))
		}
	}
	b.WriteString(`.SH EXIT STATUS
0: done. 1: it failed, and one sentence says why. 2: asked wrongly. 78: the daemon's config file, or one that it names,
is wrong or not there; its unit is then not started again.
.SH FILES
.TP
.I /etc/pourward/config.yml
what the daemon is told; "pourward check\-config \-example" prints one with every key explained
.TP
.I /var/lib/pourward/
the record, and what was told to whom
.TP
.I /usr/share/doc/pourward/
guides for the maker, alert rules and examples
.SH CAUTION
It watches time and temperature and does not know your product: its safety data sheet, local codes and licensed
practice come first.
`)
	return b.String()
}

func flagsOf(d *described) string {
	if len(d.flags) == 0 {
		return ""
	}
	return " [flags]"
}

// roffText is text of paragraphs; lines that are indented stay lines of their own.
func roffText(s string) string {
	var b strings.Builder
	literal, paragraph := false, false
	for _, line := range strings.Split(strings.TrimSpace(s), "\n") {
		if strings.TrimSpace(line) == "" {
			paragraph = true
			continue
		}
		indented := strings.HasPrefix(line, " ") || strings.HasPrefix(line, "\t")
		if literal && !indented {
			b.WriteString(".fi\n")
		}
		if paragraph || literal != indented {
			b.WriteString(".PP\n")
		}
		if indented && !literal {
			b.WriteString(".nf\n")
		}
		literal, paragraph = indented, false
		b.WriteString(roff(strings.TrimRight(line, " ")) + "\n")
	}
	if literal {
		b.WriteString(".fi\n")
	}
	return b.String()
}

// roff escapes what roff would take for its own.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, `-`, `\-`, "\t", "    ").Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return strings.ReplaceAll(s, `"`, `\(dq`)
}
