package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// What each shell offers, where it is asked by itself what fits.
func TestCompletionInAShell(t *testing.T) {
	for shell, script := range map[string]string{
		"bash": `source packaging/pourward.bash; read -ra COMP_WORDS <<<"$1"; COMP_CWORD=$((${#COMP_WORDS[@]} - 1)); _pourward; printf '%s\n' "${COMPREPLY[@]}"`,
		// Its completion system works at a terminal only. Two of its functions say here what they would have shown.
		"zsh": `_describe() { for o in "${(@P)@[-1]}"; do [[ $o != $PREFIX* ]] || print -r -- "${o%%:*}"; done }; _files() { }
			words=(${=1}); CURRENT=$#words; PREFIX=$words[-1]; source packaging/pourward.zsh`,
		"fish": `source packaging/pourward.fish; complete -C $argv[2] | string replace -r '\t.*' ''; true`,
	} {
		for typed, want := range map[string][]string{
			"pourward re":                 {"replay", "report"},
			"pourward help":               nil,
			"pourward mark -m":            {"-material", "-method", "-mold"},
			"pourward serve -":            {"-config"},
			"pourward frob -":             nil,
			"pourward check-config -":     {"-example"},
			"pourward mark -mold demo -m": {"-material", "-method", "-mold"},
		} {
			require.ElementsMatch(t, want, strings.Fields(inShell(t, shell, script, shell, typed)), "%s: %s", shell, typed)
		}
	}
}

// The shells' own parsers take every line, and zsh finds by the first one what it is for.
func TestCompletionIsSound(t *testing.T) {
	for _, shell := range []string{"bash", "zsh", "fish"} {
		out, err := exec.Command(shell, "-n", "packaging/pourward."+shell).CombinedOutput()
		require.False(t, errors.Is(err, exec.ErrNotFound), "needs %s (Debian package %[1]s)", shell)
		require.NoError(t, err, "%s", out)
		require.Empty(t, out)
	}
	dir := t.TempDir()
	found := inShell(t, "zsh", `cp packaging/pourward.zsh $1/_pourward; fpath=($1 $fpath); autoload -U compinit && compinit -D -u; print $_comps[pourward]`, "zsh", dir)
	require.Equal(t, "_pourward\n", found)
}

// inShell runs a script that is handed words, and returns what it tells. A shell's own settings are left out.
func inShell(t *testing.T, shell, script string, words ...string) string {
	t.Helper()
	bare := map[string]string{"bash": "--norc", "zsh": "-f", "fish": "--no-config"}[shell]
	var out, errs bytes.Buffer
	cmd := exec.Command(shell, append([]string{bare, "-c", script}, words...)...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	require.False(t, errors.Is(err, exec.ErrNotFound), "needs %s (Debian package %[1]s)", shell)
	require.NoError(t, err, "%s", &errs)
	require.Empty(t, errs.String())
	return out.String()
}

// forBash offers commands first, then a command's flags; values and files are left to the shell.
func forBash(all []*described) string {
	var b strings.Builder
	b.WriteString(`# Made by go test ./cmd/pourward -run Manual -update; do not edit.
_pourward() {
  local word=${COMP_WORDS[COMP_CWORD]} offers=
  COMPREPLY=()
  if [ "$COMP_CWORD" -eq 1 ]; then
    offers="`)
	for i, d := range all {
		if i > 0 {
			b.WriteString(" ")
		}
		b.WriteString(d.name)
	}
	b.WriteString("\"\n  elif [[ $word == -* ]]; then\n    case ${COMP_WORDS[1]} in\n")
	for _, d := range all {
		if len(d.flags) == 0 {
			continue
		}
		fmt.Fprintf(&b, "    %s) offers=\"", d.name)
		for i, f := range d.flags {
			if i > 0 {
				b.WriteString(" ")
			}
			b.WriteString("-" + f.Name)
		}
		b.WriteString("\" ;;\n")
	}
	b.WriteString(`    esac
  fi
  if [ -n "$offers" ]; then
    mapfile -t COMPREPLY < <(compgen -W "$offers" -- "$word")
  fi
}
complete -o default -F _pourward pourward
`)
	return b.String()
}

// forZsh offers the same, each with what it is.
func forZsh(all []*described) string {
	var b strings.Builder
	b.WriteString(`#compdef pourward
# Made by go test ./cmd/pourward -run Manual -update; do not edit.
local -a offers
if (( CURRENT == 2 )); then
  offers=(
`)
	for _, d := range all {
		fmt.Fprintf(&b, "    %s\n", zshQuoted(d.name+":"+d.about))
	}
	b.WriteString("  )\n  _describe command offers\nelif [[ $PREFIX == -* ]]; then\n  case $words[2] in\n")
	for _, d := range all {
		if len(d.flags) == 0 {
			continue
		}
		fmt.Fprintf(&b, "  %s)\n    offers=(\n", d.name)
		for _, f := range d.flags {
			_, usage := flag.UnquoteUsage(f)
			fmt.Fprintf(&b, "      %s\n", zshQuoted("-"+f.Name+":"+usage))
		}
		b.WriteString("    )\n    ;;\n")
	}
	b.WriteString(`  esac
  _describe -o flag offers
else
  _files
fi
`)
	return b.String()
}

func zshQuoted(s string) string { return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'" }

// forFish offers the same, each with what it is; a flag that takes no value is known for one.
func forFish(all []*described) string {
	var b strings.Builder
	b.WriteString(`# Made by go test ./cmd/pourward -run Manual -update; do not edit.
function __pourward_begins
    test (count (commandline -opc)) -eq 1
end
function __pourward_does
    set -l words (commandline -opc)
    test (count $words) -gt 1; and test $words[2] = $argv[1]
end
`)
	for _, d := range all {
		fmt.Fprintf(&b, "complete -c pourward -n __pourward_begins -f -a %s -d %s\n", d.name, fishQuoted(d.about))
	}
	for _, d := range all {
		for _, f := range d.flags {
			_, usage := flag.UnquoteUsage(f)
			value := " -r"
			if is, ok := f.Value.(interface{ IsBoolFlag() bool }); ok && is.IsBoolFlag() {
				value = ""
			}
			fmt.Fprintf(&b, "complete -c pourward -n '__pourward_does %s' -o %s%s -d %s\n", d.name, f.Name, value, fishQuoted(usage))
		}
	}
	return b.String()
}

func fishQuoted(s string) string {
	return "'" + strings.NewReplacer(`\`, `\\`, "'", `\'`).Replace(s) + "'"
}
