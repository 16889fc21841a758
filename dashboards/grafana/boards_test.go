//lint:file-ignore SA1019 the second schema is still a beta of Grafana's own; every release of it reads the first

package grafana_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/VictoriaMetrics/metricsql"
	"github.com/goccy/go-yaml"
	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/cog/plugins"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/prometheus/common/expfmt"
	"github.com/prometheus/common/model"
	"github.com/stretchr/testify/require"

	"pourward/dashboards/grafana"
	"pourward/dashboards/metrics"
)

var update = flag.Bool("update", false, "write the generated files instead of comparing with them")

// The dashboards are committed, so that they can be loaded without Go.
func TestCommittedBoardsFollowTheCode(t *testing.T) {
	for _, b := range grafana.Boards() {
		t.Run(b.File, func(t *testing.T) {
			var want bytes.Buffer
			require.NoError(t, b.Write(&want))
			if *update {
				require.NoError(t, os.WriteFile(b.File, want.Bytes(), 0o644))
			}
			got, err := os.ReadFile(b.File)
			require.NoError(t, err)
			require.Equal(t, want.String(), string(got), "run: go test ./dashboards/grafana -run Committed -update")
		})
	}
}

// panel is what the tests look at of a panel, or of a row.
type panel struct {
	ID                       int
	Type, Title, Description string
	GridPos                  struct{ H, W, X, Y int }
	Targets                  []struct{ Expr, LegendFormat, RefID string }
}

type variable struct{ Name, Definition string }

// read reads a committed board.
func read(t *testing.T, file string) (panels []panel, variables []variable) {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	var d struct {
		Panels     []panel
		Templating struct{ List []variable }
	}
	require.NoError(t, json.Unmarshal(text, &d))
	return d.Panels, d.Templating.List
}

// The kit that builds the boards also judges them: no field is unknown to Grafana's schema.
func TestTheSchemaKnowsEveryField(t *testing.T) {
	plugins.RegisterDefaultPlugins()
	for _, b := range grafana.Boards() {
		text, err := os.ReadFile(b.File)
		require.NoError(t, err)
		var d dashboard.Dashboard
		err = d.UnmarshalJSONStrict(text)
		if unsaid := (cog.BuildErrors{}); errors.As(err, &unsaid) && len(unsaid) == 0 {
			err = nil // the kit gives an empty list of errors for a sound board
		}
		require.NoError(t, err, b.File)
	}
}

func TestPanelsLieBesideEachOther(t *testing.T) {
	for _, b := range grafana.Boards() {
		panels, _ := read(t, b.File)
		taken := map[[2]int]string{}
		ids := map[int]bool{}
		for _, p := range panels {
			require.NotEmpty(t, p.Title)
			require.False(t, ids[p.ID], "%s: the number of %q is taken", b.File, p.Title)
			ids[p.ID] = true
			require.LessOrEqual(t, p.GridPos.X+p.GridPos.W, 24, p.Title)
			for x := range p.GridPos.W {
				for y := range p.GridPos.H {
					at := [2]int{p.GridPos.X + x, p.GridPos.Y + y}
					require.Empty(t, taken[at], "%s: %q lies over it", b.File, p.Title)
					taken[at] = p.Title
				}
			}
		}
	}
}

// chosenFor puts in what a visitor who chose nothing asks for.
func chosenFor(expr string) string {
	return strings.NewReplacer("$shop", ".*", "$instance", ".*", "$__rate_interval", "5m").Replace(expr)
}

// named are the metrics that an expression names.
func named(t *testing.T, expr string) (out []string) {
	t.Helper()
	e, err := metricsql.Parse(chosenFor(expr))
	require.NoError(t, err, expr)
	metricsql.VisitAll(e, func(e metricsql.Expr) {
		m, ok := e.(*metricsql.MetricExpr)
		if !ok {
			return
		}
		for _, filters := range m.LabelFilterss {
			require.Equal(t, "__name__", filters[0].Label, expr)
			out = append(out, filters[0].Value)
		}
	})
	return out
}

// known are the metrics there are: the daemon's, what the rules for many shops record, and those of
// Prometheus itself, and what the daemon says of its build.
func known(t *testing.T) map[string]bool {
	t.Helper()
	out := map[string]bool{"ALERTS": true, "up": true, "pourward_build_info": true}
	for _, m := range metrics.Table() {
		out[m.Name] = true
	}
	for name := range rules(t) {
		out[name] = true
	}
	return out
}

// rules are the expressions of the rules for many shops, by what they record.
func rules(t *testing.T) map[string]string {
	t.Helper()
	text, err := os.ReadFile("../../alerts/fleet/fleet.rules.yml")
	require.NoError(t, err)
	var file struct {
		Groups []struct {
			Rules []struct{ Record, Expr string }
		}
	}
	require.NoError(t, yaml.Unmarshal(text, &file))
	out := map[string]string{}
	for _, g := range file.Groups {
		for _, r := range g.Rules {
			out[r.Record] = r.Expr
		}
	}
	require.NotEmpty(t, out)
	return out
}

func TestEveryMetricThatIsAskedForExists(t *testing.T) {
	exists := known(t)
	recorded := map[string]bool{}
	for _, b := range grafana.Boards() {
		panels, variables := read(t, b.File)
		require.Len(t, variables, 3, b.File)
		asked := 0
		for _, p := range panels {
			for _, q := range p.Targets {
				asked++
				for _, name := range named(t, q.Expr) {
					require.True(t, exists[name], "%s, %q asks for %s, which nobody exports", b.File, p.Title, name)
					recorded[name] = true
				}
			}
		}
		require.Positive(t, asked)
		for _, v := range variables[1:] {
			m := regexp.MustCompile(`^label_values\((.+), (shop|instance)\)$`).FindStringSubmatch(v.Definition)
			require.NotNil(t, m, v.Definition)
			for _, name := range named(t, m[1]) {
				require.True(t, exists[name], name)
			}
		}
	}
	for name, expr := range rules(t) {
		require.True(t, recorded[name], "nobody asks for the rule %s", name)
		for _, from := range named(t, expr) {
			require.True(t, exists[from], "the rule %s asks for %s, which nobody exports", name, from)
		}
	}
}

// A state that a dashboard does not know would be drawn as the first it knows.
func TestEveryStateIsKnown(t *testing.T) {
	f, err := os.Open("../metrics/testdata/metrics.prom")
	require.NoError(t, err)
	defer f.Close()
	parser := expfmt.NewTextParser(model.UTF8Validation)
	families, err := parser.TextToMetricFamilies(f)
	require.NoError(t, err)
	told := map[string][]string{}
	for name, family := range families {
		for _, m := range family.Metric {
			for _, l := range m.Label {
				if l.GetName() == name && !slices.Contains(told[name], l.GetValue()) {
					told[name] = append(told[name], l.GetValue())
				}
			}
		}
	}
	drawn := map[string][]string{}
	panels, _ := read(t, "bench.json")
	for _, p := range panels {
		for _, q := range p.Targets {
			if p.Type != "state-timeline" {
				continue
			}
			for _, m := range regexp.MustCompile(`(\w+)="([^"]+)"\} \* \d`).FindAllStringSubmatch(q.Expr, -1) {
				drawn[m[1]] = append(drawn[m[1]], m[2])
			}
		}
	}
	require.Len(t, drawn, 6)
	for name, states := range drawn {
		require.ElementsMatch(t, told[name], states, name)
	}
}
