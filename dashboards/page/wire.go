package page

import (
	"math"
	"net/http"
	"time"

	"pourward/model"
)

// The wire types are the JSON form of a snapshot. Temperatures are °C, humidity is a ratio 0..1, spans
// are seconds, instants are RFC 3339 in UTC. What is not known is null, never zero.

type wireSnapshot struct {
	At     *time.Time  `json:"at"`
	Places []wirePlace `json:"places"`
	Probes []wireProbe `json:"probes"`
	Molds  []wireMold  `json:"molds"`

	Patches []wirePatch `json:"patches"`
	Trials  []wireTrial `json:"trials"` // what the patches say together

	Health wireHealth `json:"health"`
}

type wirePlace struct {
	Name      string      `json:"name"`
	Probe     string      `json:"probe"`
	OffProbe  string      `json:"off_probe,omitempty"` // another one here that disagrees
	OffK      *float64    `json:"off_k,omitempty"`     // by how much the believed one is above it
	Known     bool        `json:"known"`
	At        *time.Time  `json:"at"`
	TempC     *float64    `json:"temp_c"`
	Humidity  *float64    `json:"humidity"`
	DewPointC *float64    `json:"dew_point_c"`
	PourMinC  *float64    `json:"pour_min_c"`
	PourMaxC  *float64    `json:"pour_max_c"`
	Pour      wireFitness `json:"pour"`
	Ahead     []wireReach `json:"ahead"` // empty where no open mold needed it
}

// wireReach is what the temperature may be: one in ten is lower than low_c, one in ten higher than high_c.
type wireReach struct {
	At      *time.Time `json:"at"`
	LowC    *float64   `json:"low_c"`
	LikelyC *float64   `json:"likely_c"`
	HighC   *float64   `json:"high_c"`
}

type wireFitness struct {
	Verdict string       `json:"verdict"`
	Reasons []wireReason `json:"reasons"`
	From    *time.Time   `json:"fit_from,omitempty"` // when waiting mends it
	Warmer  *wireWarmer  `json:"warmed,omitempty"`
}

// wireWarmer is what holding the place at a temperature from now on would bring.
type wireWarmer struct {
	TempC float64    `json:"temp_c"`
	From  *time.Time `json:"fit_from"`
}

type wireReason struct {
	Code    string `json:"code"`
	Caution bool   `json:"caution"`
	Text    string `json:"text"`
}

type wireProbe struct {
	Name         string            `json:"name"`
	Place        string            `json:"place"`
	Last         *time.Time        `json:"last"`
	EverySeconds float64           `json:"every_seconds"`
	Silent       bool              `json:"silent"`
	TempC        *float64          `json:"temp_c"`
	Humidity     *float64          `json:"humidity"`
	Reads        uint64            `json:"reads"`
	Faults       map[string]uint64 `json:"faults,omitempty"`
	LastError    string            `json:"last_error,omitempty"`
}

type wireMold struct {
	Name     string       `json:"name"`
	Title    string       `json:"title"`
	Place    string       `json:"place"`
	Surface  string       `json:"surface,omitempty"`
	Rubber   string       `json:"rubber,omitempty"`
	Begun    *time.Time   `json:"begun"`
	Poured   bool         `json:"poured"`
	Demolded *time.Time   `json:"demolded"`
	Next     string       `json:"next"`
	NextAt   *time.Time   `json:"next_at"`
	Pour     *wireFitness `json:"pour"`  // null once poured
	Doubt    *wireDoubt   `json:"doubt"` // null while nothing was touched
	Cup      string       `json:"cup,omitempty"`
	CupAt    *time.Time   `json:"cup_at,omitempty"` // when the leftover is first worth a touch
	Steps    []wireStep   `json:"steps"`
	Coming   []wireComing `json:"coming,omitempty"`
	Marks    []wireMark   `json:"marks"`

	Face  string     `json:"face,omitempty"` // what the rubber meets
	Prep  []string   `json:"prep,omitempty"` // coats and release on it, in order
	Risks []wireRisk `json:"risks,omitempty"`
	Vouch *wireVouch `json:"vouch"` // the patch that vouches for pouring now; null = none, or poured
}

type wireStep struct {
	Mark        int64      `json:"mark"`
	Kind        string     `json:"kind"`
	Name        string     `json:"name"`
	Title       string     `json:"title"`
	Material    string     `json:"material"`
	Begun       *time.Time `json:"begun"`
	Ended       *time.Time `json:"ended"`
	Standing    string     `json:"standing"`
	Earliest    *time.Time `json:"earliest"` // one in ten says earlier
	Likely      *time.Time `json:"likely"`
	Latest      *time.Time `json:"latest"` // one in ten says later
	NotBefore   *time.Time `json:"not_before"`
	Closes      *wireBand  `json:"closes,omitempty"`      // of a layer window: when the next layer no longer bonds
	RecoatFrom  *time.Time `json:"recoat_from,omitempty"` // of a coat: by then nine in ten take the next one
	RecoatUntil *time.Time `json:"recoat_until,omitempty"`
	Share       *float64   `json:"share"`
	RoomSeconds float64    `json:"room_seconds"`
	Why         []string   `json:"why,omitempty"`
	Cautions    []string   `json:"cautions,omitempty"`
	Sources     []string   `json:"sources,omitempty"`
}

type wireBand struct {
	Earliest *time.Time `json:"earliest"`
	Likely   *time.Time `json:"likely"`
	Latest   *time.Time `json:"latest"`
}

func wireBandOf(b model.Band) *wireBand {
	if !b.Told() {
		return nil
	}
	return &wireBand{instant(b.Earliest), instant(b.Likely), instant(b.Latest)}
}

type wireComing struct {
	Mark  string `json:"mark"` // the kind of mark it will be entered by
	Name  string `json:"name,omitempty"`
	Title string `json:"title"`
	How   string `json:"how,omitempty"`
}

type wireMark struct {
	ID        int64      `json:"id"`
	Kind      string     `json:"kind"`
	At        *time.Time `json:"at"`
	Entered   *time.Time `json:"entered"`
	Corrects  int64      `json:"corrects,omitempty"`
	EnteredBy string     `json:"entered_by,omitempty"`
	Title     string     `json:"title,omitempty"`
	Place     string     `json:"place,omitempty"`
	Surface   string     `json:"surface,omitempty"`
	Material  string     `json:"material,omitempty"`
	Of        string     `json:"of,omitempty"`
	Found     string     `json:"found,omitempty"`
	Build     *wireBuild `json:"build,omitempty"`
	Note      string     `json:"note,omitempty"`

	Design *model.Design `json:"design,omitempty"`
	Face   string        `json:"face,omitempty"`
	Prep   []string      `json:"prep,omitempty"`
	Batch  *model.Batch  `json:"batch,omitempty"`
	FilmUM float64       `json:"film_um,omitempty"`
}

// wireBuild is what a mold is made of; thicknesses are mm, 0 is not told.
type wireBuild struct {
	RubberMM  float64 `json:"rubber_mm"`
	Pattern   string  `json:"pattern,omitempty"`
	PatternMM float64 `json:"pattern_mm,omitempty"`
	Shell     string  `json:"shell,omitempty"`
	ShellMM   float64 `json:"shell_mm,omitempty"`
	ProbeIn   string  `json:"probe_in,omitempty"`
}

type wireHealth struct {
	Started  *time.Time `json:"started"`
	LastSync *time.Time `json:"record_last_sync"`
	Waiting  int        `json:"record_waiting"`
	Readings uint64     `json:"record_readings"`
	Marks    uint64     `json:"record_marks"`
	Err      string     `json:"record_error,omitempty"`

	ClockTrusted bool `json:"clock_trusted"`
}

func (s *site) snapshotJSON(w http.ResponseWriter, r *http.Request) {
	snap, _ := s.look(r)
	if snap == nil || snap.Outlook == nil {
		writeJSON(w, http.StatusServiceUnavailable, map[string]string{"error": "The shop has not told anything yet."})
		return
	}
	writeJSON(w, http.StatusOK, wireOf(snap))
}

// known is a number that JSON can carry, or null.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// instant is a time, or null for the zero time.
func instant(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}

func wireOf(snap *model.Snapshot) wireSnapshot {
	o, h := snap.Outlook, snap.Health
	out := wireSnapshot{
		At: instant(o.At), Places: []wirePlace{}, Probes: []wireProbe{}, Molds: []wireMold{},
		Health: wireHealth{instant(h.Started), instant(h.Journal.LastSync), h.Journal.Waiting, h.Journal.Readings, h.Journal.Marks, h.Journal.Err, h.ClockTrusted},
	}
	for _, p := range o.Places {
		out.Places = append(out.Places, wirePlaceOf(p))
	}
	for _, p := range o.Probes {
		out.Probes = append(out.Probes, wireProbeOf(p, h.Probes))
	}
	for i := range o.Molds {
		out.Molds = append(out.Molds, wireMoldOf(&o.Molds[i]))
	}
	out.Patches, out.Trials = []wirePatch{}, []wireTrial{}
	for i := range o.Patches {
		out.Patches = append(out.Patches, wirePatchOf(&o.Patches[i]))
	}
	for _, t := range o.Trials {
		out.Trials = append(out.Trials, wireTrialOf(t))
	}
	return out
}

func wirePlaceOf(p model.PlaceOutlook) wirePlace {
	out := wirePlace{Name: p.Name, Probe: p.Probe, Known: p.Known, At: instant(p.At), TempC: known(p.TempC), Humidity: known(p.Humidity),
		DewPointC: known(p.DewPointC), PourMinC: known(p.PourMinC), PourMaxC: known(p.PourMaxC), Pour: wireFitnessOf(p.Pour), Ahead: wireAheadOf(p.Ahead)}
	if p.OffProbe != "" {
		out.OffProbe, out.OffK = p.OffProbe, known(p.OffK)
	}
	return out
}

func wireProbeOf(p model.ProbeOutlook, health []model.ProbeHealth) wireProbe {
	out := wireProbe{Name: p.Name, Place: p.Place, Last: instant(p.Last), EverySeconds: p.Every.Seconds(),
		Silent: p.Silent, TempC: known(p.TempC), Humidity: known(p.Humidity)}
	for _, h := range health {
		if h.Name != p.Name {
			continue
		}
		out.Reads, out.LastError = h.Reads, h.LastError
		for fault, n := range h.Faults {
			if out.Faults == nil {
				out.Faults = map[string]uint64{}
			}
			out.Faults[fault.String()] = n
		}
	}
	return out
}

func wireAheadOf(ahead []model.Reach) []wireReach {
	out := make([]wireReach, 0, len(ahead))
	for _, r := range ahead {
		out = append(out, wireReach{instant(r.At), known(r.LowC), known(r.LikelyC), known(r.HighC)})
	}
	return out
}

func wireBuildOf(b model.Build) *wireBuild {
	if b == (model.Build{}) {
		return nil
	}
	return &wireBuild{b.RubberMM, b.Pattern, b.PatternMM, b.Shell, b.ShellMM, b.ProbeIn}
}

func wireFitnessOf(f model.Fitness) wireFitness {
	out := wireFitness{Verdict: string(f.Verdict), Reasons: []wireReason{}, From: instant(f.From)}
	if f.Warmer != nil {
		out.Warmer = &wireWarmer{f.Warmer.TempC, instant(f.Warmer.From)}
	}
	for _, r := range f.Reasons {
		out.Reasons = append(out.Reasons, wireReason{string(r.Code), r.Caution, r.Text})
	}
	return out
}

func wireMoldOf(m *model.MoldOutlook) wireMold {
	out := wireMold{Name: m.Name, Title: m.Title, Place: m.Place, Surface: m.Surface, Rubber: m.Rubber,
		Begun: instant(m.Begun), Poured: m.Poured, Demolded: instant(m.Demolded), Next: m.Next, NextAt: instant(m.NextAt),
		Doubt: wireDoubtOf(m.Doubt), Cup: m.Cup, CupAt: instant(m.CupAt), Steps: []wireStep{}, Marks: []wireMark{},
		Face: m.Face, Prep: m.Prep, Risks: wireRisksOf(m.Risks), Vouch: wireVouchOf(m.Vouch)}
	if !m.Poured && m.Open() {
		f := wireFitnessOf(m.Pour)
		out.Pour = &f
	}
	for _, s := range m.Steps {
		out.Steps = append(out.Steps, wireStep{s.Mark, string(s.Kind), s.Name, s.Title, s.Material, instant(s.Begun), instant(s.Ended),
			string(s.Standing), instant(s.Band.Earliest), instant(s.Band.Likely), instant(s.Band.Latest), instant(s.NotBefore), wireBandOf(s.Closes), instant(s.Recoat.From), instant(s.Recoat.Until),
			known(s.Share), s.RoomTime.Seconds(), s.Why, s.Cautions, s.Sources})
	}
	for _, c := range m.Coming {
		out.Coming = append(out.Coming, wireComing{string(c.Mark), c.Name, c.Title, c.How})
	}
	for _, k := range m.Marks {
		out.Marks = append(out.Marks, wireMarkOf(k))
	}
	return out
}

func wireMarkOf(k model.Mark) wireMark {
	out := wireMark{ID: k.ID, Kind: string(k.Kind), At: instant(k.At), Entered: instant(k.Entered), Corrects: k.Corrects, EnteredBy: k.EnteredBy,
		Title: k.Title, Place: k.Place, Surface: k.Surface, Material: k.Material, Of: string(k.Of), Found: string(k.Found),
		Build: wireBuildOf(k.Build), Note: k.Note, Face: k.Face, Prep: k.Prep, FilmUM: k.FilmUM}
	if k.Design != (model.Design{}) {
		out.Design = &k.Design
	}
	if k.Batch.Told() {
		out.Batch = &k.Batch
	}
	return out
}
