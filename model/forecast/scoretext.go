package forecast

import (
	"fmt"
	"strings"
)

// String lays a report out as plain text: a line for the hourly errors, and for every length of cure one for the
// bands, one for each baseline and one for how the time told improves as the cure advances.
func (r Report) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %.0f days, %d forecasts\n", r.Name, r.Days, r.Origins)
	b.WriteString("  hourly error, K (share of the best baseline's):")
	for _, l := range r.Leads {
		fmt.Fprintf(&b, "  %d h %.2f (%.2f)", l.LeadHours, l.ForecastK, l.AgainstBest())
	}
	b.WriteString("\n  pinball loss, K (persistence, yesterday, climatology):")
	for _, l := range r.Leads {
		if l.LeadHours >= 6 && l.LeadHours != 12 {
			fmt.Fprintf(&b, "  %d h %.2f (%.2f, %.2f, %.2f)", l.LeadHours, l.PinballK,
				l.BaselinePinballK(l.PersistenceK), l.BaselinePinballK(l.YesterdayK), l.BaselinePinballK(l.ClimatologyK))
		}
	}
	b.WriteByte('\n')
	for _, c := range r.Cures {
		c.write(&b)
	}
	return b.String()
}

func (c CureScore) write(b *strings.Builder) {
	fmt.Fprintf(b, "  cure of %.0f h: band held %.0f %% of %d (early %.0f, late %.0f), %.0f %% at any age; width %.1f h, without end %.0f %%; interval score %.1f h, CRPS %.1f h; error %.1f %% (median %.1f %%), nine in ten within %.1f %%\n",
		c.NeedHours, 100*c.Coverage, c.Count, 100*c.TooEarly, 100*c.TooLate, 100*c.CoverageAll, c.WidthHours, 100*c.Endless,
		c.IntervalScoreHours, c.CRPSHours, 100*c.MeanError, 100*c.MedianError, 100*c.P90Error)
	for _, s := range c.Baselines {
		fmt.Fprintf(b, "    %s: band held %.0f %%, width %.1f h (%.1f h for the same share); error %.1f %% (median %.1f %%), nine in ten within %.1f %%\n",
			s.Name, 100*s.Coverage, s.WidthHours, s.MatchedWidthHours, 100*s.MeanError, 100*s.MedianError, 100*s.P90Error)
	}
	b.WriteString("    as it advances:")
	for _, a := range c.Aging {
		fmt.Fprintf(b, "  %.0f %% done: error %.1f %%, band held %.0f %%", 100*a.Done, 100*a.MeanError, 100*a.Coverage)
	}
	fmt.Fprintf(b, "\n    rank of the truth: %v\n", c.PIT)
}
