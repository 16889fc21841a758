package grafana

import (
	"github.com/grafana/grafana-foundation-sdk/go/cog"
	"github.com/grafana/grafana-foundation-sdk/go/common"
	"github.com/grafana/grafana-foundation-sdk/go/dashboard"
	"github.com/grafana/grafana-foundation-sdk/go/prometheus"
	"github.com/grafana/grafana-foundation-sdk/go/stat"
	"github.com/grafana/grafana-foundation-sdk/go/statetimeline"
	"github.com/grafana/grafana-foundation-sdk/go/table"
	"github.com/grafana/grafana-foundation-sdk/go/timeseries"
)

// A dashboard is 24 wide.
const (
	full  = 24
	half  = 12
	third = 8
	tall  = 9
	low   = 5
)

// query is one question to Prometheus.
type query struct {
	expr, legend string
}

// refs are the names of a panel's queries.
const refs = "ABCDEFGH"

// over asks for the course of things.
func over(queries []query) []cog.Builder[dashboardQuery] {
	return asked(queries, func(q *prometheus.DataqueryBuilder) { q.Range() })
}

// now asks for how things stand, as rows of a table.
func now(queries []query) []cog.Builder[dashboardQuery] {
	return asked(queries, func(q *prometheus.DataqueryBuilder) { q.Instant().Format(prometheus.PromQueryFormatTable) })
}

// newest asks for how things stand, as series.
func newest(queries []query) []cog.Builder[dashboardQuery] {
	return asked(queries, func(q *prometheus.DataqueryBuilder) { q.Instant() })
}

func asked(queries []query, how func(*prometheus.DataqueryBuilder)) []cog.Builder[dashboardQuery] {
	var out []cog.Builder[dashboardQuery]
	for i, q := range queries {
		b := prometheus.NewDataqueryBuilder().Datasource(source()).Expr(q.expr).LegendFormat(q.legend).RefId(refs[i : i+1])
		how(b)
		out = append(out, b)
	}
	return out
}

// lines draws the course of numbers.
func lines(title, about, unit string, wide uint32, queries ...query) *timeseries.PanelBuilder {
	return timeseries.NewPanelBuilder().Title(title).Description(about).Datasource(source()).Unit(unit).
		Span(wide).Height(tall).Targets(over(queries)).LineWidth(2).FillOpacity(0).ShowPoints(common.VisibilityModeNever).
		Legend(common.NewVizLegendOptionsBuilder().DisplayMode(common.LegendDisplayModeList).Placement(common.LegendPlacementBottom).ShowLegend(true)).
		Tooltip(common.NewVizTooltipOptionsBuilder().Mode(common.TooltipDisplayModeMulti).Sort(common.SortOrderDescending))
}

// dashed draws what the name of a series matches as a limit.
func dashed(p *timeseries.PanelBuilder, matching string) *timeseries.PanelBuilder {
	return p.OverrideByRegexp(matching, []dashboard.DynamicConfigValue{
		{Id: "custom.lineStyle", Value: map[string]any{"fill": "dash", "dash": []int{8, 6}}},
		{Id: "custom.lineWidth", Value: 1},
		{Id: "color", Value: map[string]any{"mode": "fixed", "fixedColor": slateColour}},
	})
}

// course draws which state held when.
func course(title, about string, wide uint32, states []state, queries ...query) *statetimeline.PanelBuilder {
	return statetimeline.NewPanelBuilder().Title(title).Description(about).Datasource(source()).
		Span(wide).Height(tall).Targets(over(queries)).Mappings(words(states)).
		ShowValue(common.VisibilityModeAuto).MergeValues(true).RowHeight(0.8).
		Legend(common.NewVizLegendOptionsBuilder().ShowLegend(false).DisplayMode(common.LegendDisplayModeList).Placement(common.LegendPlacementBottom))
}

// number shows how one thing stands.
func number(title, about, unit string, wide uint32, queries ...query) *stat.PanelBuilder {
	return stat.NewPanelBuilder().Title(title).Description(about).Datasource(source()).Unit(unit).
		Span(wide).Height(low).Targets(newest(queries)).GraphMode(common.BigValueGraphModeNone).
		ColorMode(common.BigValueColorModeValue).TextMode(common.BigValueTextModeAuto).
		ReduceOptions(common.NewReduceDataOptionsBuilder().Calcs([]string{"lastNotNull"}))
}

// list shows how many things stand, one a line.
func list(title, about string, wide uint32, columns []column, queries ...query) *table.PanelBuilder {
	b := table.NewPanelBuilder().Title(title).Description(about).Datasource(source()).
		Span(wide).Height(tall).Targets(now(queries)).ShowHeader(true).
		Footer(common.NewTableFooterOptionsBuilder().Show(false).Reducer([]string{}))
	if len(queries) > 1 {
		b.WithTransformation(dashboard.DataTransformerConfig{Id: "merge", Options: map[string]any{}})
	}
	return b.WithTransformation(organized(columns...))
}

// spans shows the named columns of a table as spans of time.
func spans(b *table.PanelBuilder, unit string, names ...string) *table.PanelBuilder {
	for _, n := range names {
		b.OverrideByName(n, []dashboard.DynamicConfigValue{{Id: "unit", Value: unit}})
	}
	return b
}
