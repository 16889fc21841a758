//lint:file-ignore SA1019 the second schema is still a beta of Grafana's own; every release of it reads the first

package grafana

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"

	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/common"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/units"

	"pourward/dashboards/metrics"
)

// Board is one dashboard.
type Board struct {
	File  string // name of its file
	build func() *dashboard.DashboardBuilder
}

// Boards lists the dashboards: for one bench, and for many shops.
func Boards() []Board {
	return []Board{{"bench.json", bench}, {"fleet.json", fleet}}
}

// Write writes the dashboard as JSON.
func (b Board) Write(w io.Writer) error {
	d, err := b.build().Build()
	if err != nil {
		return fmt.Errorf("build the dashboard %s: %w", b.File, err)
	}
	text, err := json.MarshalIndent(d, "", "  ")
	if err != nil {
		return fmt.Errorf("write the dashboard %s: %w", b.File, err)
	}
	_, err = w.Write(append(text, '\n'))
	return err
}

// section is a row with what stands below it.
type section struct {
	title  string
	panels []cog.Builder[dashboard.Panel]
}

// board is a dashboard of sections. Its hours are the visitor's.
func board(uid, title, about string, sections ...section) *dashboard.DashboardBuilder {
	b := dashboard.NewDashboardBuilder(title).Uid(uid).Description(about).Tags([]string{"pourward"}).
		Timezone(common.TimeZoneBrowser).Refresh("30s").Time("now-24h", "now").
		Tooltip(dashboard.DashboardCursorSyncCrosshair).Editable().
		WithVariable(dashboard.NewDatasourceVariableBuilder(sourceName).Label("Prometheus").Type("prometheus"))
	for _, v := range variables() {
		b.WithVariable(v)
	}
	id := uint32(1)
	for _, s := range sections {
		b.WithRow(dashboard.NewRowBuilder(s.title).Id(id))
		id++
		for _, p := range s.panels {
			b.WithPanel(numbered{p, id})
			id++
		}
	}
	return b
}

// numbered is a panel with a number of its own, by which links lead to it.
type numbered struct {
	cog.Builder[dashboard.Panel]
	id uint32
}

// Build implements [cog.Builder].
func (n numbered) Build() (dashboard.Panel, error) {
	p, err := n.Builder.Build()
	p.Id = &n.id
	return p, err
}

const sourceName = "source"

// source is the Prometheus that the visitor chose.
func source() common.DataSourceRef {
	return common.DataSourceRef{Type: cog.ToPtr("prometheus"), Uid: cog.ToPtr("${" + sourceName + "}")}
}

// variables choose the shop, which is a label of the scrape's targets where there are many, and the daemon.
func variables() []*dashboard.QueryVariableBuilder {
	return []*dashboard.QueryVariableBuilder{
		variable("shop", "Shop", fmt.Sprintf("label_values(%s, shop)", metrics.ShopClock)),
		variable("instance", "Daemon", fmt.Sprintf(`label_values(%s{shop=~"$shop"}, instance)`, metrics.ShopClock)),
	}
}

// variable lets one choose among what a label may be. All of them is the beginning, and also means series
// without the label: a Prometheus for one shop need not name it.
func variable(name, label, query string) *dashboard.QueryVariableBuilder {
	all := dashboard.StringOrArrayOfString{String: cog.ToPtr("$__all")}
	return dashboard.NewQueryVariableBuilder(name).Label(label).Datasource(source()).
		Query(dashboard.StringOrMap{String: &query}).Definition(query).
		Refresh(dashboard.VariableRefreshOnTimeRangeChanged).Sort(dashboard.VariableSortAlphabeticalAsc).
		Multi(true).IncludeAll(true).AllValue(".*").
		Current(dashboard.VariableOption{Text: dashboard.StringOrArrayOfString{String: cog.ToPtr("All")}, Value: all})
}

// Colours of states: our own four, which those who cannot tell red from green tell apart by lightness too.
const (
	clayColour  = "#B5532A" // trouble
	strawColour = "#E3B23C" // look at it
	pineColour  = "#1F7A6B" // go on
	slateColour = "#7D8A96" // nothing to tell
	inkColour   = "#34507A" // under way
)

// state is a value that stands for a word.
type state struct{ word, colour string }

// words maps 0, 1, 2 ... to words.
func words(states []state) []dashboard.ValueMapping {
	m := dashboard.NewValueMap()
	for i, s := range states {
		m.Options[fmt.Sprint(i)] = dashboard.ValueMappingResult{Text: cog.ToPtr(s.word), Color: cog.ToPtr(s.colour), Index: cog.ToPtr(int32(i))}
	}
	return []dashboard.ValueMapping{{ValueMap: m}}
}

// limits colours a number: the first colour below the first limit, and so on.
func limits(first string, above ...limit) *dashboard.ThresholdsConfigBuilder {
	steps := []dashboard.Threshold{{Color: first}}
	for _, l := range above {
		steps = append(steps, dashboard.Threshold{Value: cog.ToPtr(l.from), Color: l.colour})
	}
	return dashboard.NewThresholdsConfigBuilder().Mode(dashboard.ThresholdsModeAbsolute).Steps(steps)
}

type limit struct {
	from   float64
	colour string
}

// organized names the columns of a table, in order, and leaves the others out.
func organized(columns ...column) dashboard.DataTransformerConfig {
	order, names, keep := map[string]int{}, map[string]string{}, []string{}
	for i, c := range columns {
		order[c.field], names[c.field] = i, c.name
		keep = append(keep, c.field)
	}
	hidden := map[string]bool{}
	for _, f := range []string{"Time", "__name__", "job", "alertstate", "Value"} {
		if !slices.Contains(keep, f) {
			hidden[f] = true
		}
	}
	return dashboard.DataTransformerConfig{Id: "organize", Options: map[string]any{
		"indexByName": order, "renameByName": names, "excludeByName": hidden,
	}}
}

type column struct{ field, name string }

// left is the unit of a span of time still to come.
const left = units.DurationSeconds
