package forecast

import "slices"

// Skill is how well a place has been foreseen of late.
type Skill struct {
	Days  float64 // of whole error paths on record, at most 21; below about 5 the prior sets the spread
	Leads []LeadSkill
}

// LeadSkill is the skill at one lead. Errors are mean absolute errors of hourly means in K, NaN while unknown.
type LeadSkill struct {
	LeadHours       int
	ErrorK          float64                // of the forecast given out
	CandidateErrorK [NumCandidates]float64 // indexed by Candidate
	Share           [NumCandidates]float64 // of each candidate in the forecast now, 0..1
}

// Skill reports at 1, 3, 6, 12, 24, 48 and 72 hours. Under a stated schedule the shares are those the forecast
// would have without it.
func (f *Forecaster) Skill() Skill {
	var all [NumCandidates]curve
	now, _ := f.bins.now()
	f.forecastAll(f.originAt(now.T, now.TempC), &all)
	store := f.store()
	s := Skill{Days: store.days()}
	for _, lead := range scoredLeads {
		l := LeadSkill{LeadHours: lead, ErrorK: store.meanAbs(lead), Share: f.skill.shares(&all, lead)}
		for c := range NumCandidates {
			l.CandidateErrorK[c] = f.skill.meanAbs(c, lead)
		}
		s.Leads = append(s.Leads, l)
	}
	return s
}

// Days is [Skill.Days] without the work of the rest.
func (f *Forecaster) Days() float64 { return f.store().days() }

// ErrorK is the mean absolute error at a lead in whole hours, K; NaN while unknown.
func (f *Forecaster) ErrorK(leadHours int) float64 { return f.store().meanAbs(leadHours) }

// TempQuantiles are the quantiles of the temperature across the paths at a lead in hours, for a chart: never
// integrate a cure along them. The levels are in 0..1.
func (p *Paths) TempQuantiles(leadHours float64, levels ...float64) []float64 {
	column := make([]float64, p.N)
	for i := range column {
		column[i] = p.TempAt(i, leadHours)
	}
	slices.Sort(column)
	out := make([]float64, len(levels))
	for i, level := range levels {
		out[i] = Quantile(column, level)
	}
	return out
}
