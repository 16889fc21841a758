package model

import "time"

// Band is when something is projected to happen: one in ten says earlier than Earliest, one in ten
// later than Latest.
type Band struct {
	Earliest, Likely, Latest time.Time // 10, 50 and 90 %
}

// Told reports whether there is a band at all.
func (b Band) Told() bool { return !b.Likely.IsZero() }

// Standing says where a step stands at the instant of the outlook.
type Standing string

const (
	CannotSay Standing = "cannot say" // no honest projection; Why tells the reason
	Running   Standing = "running"    // not yet: before the earliest
	Maybe     Standing = "maybe"      // between earliest and latest: only a check by hand can tell
	Ready     Standing = "ready"      // nine in ten say so: dry, open for the next layer, or may be demolded
	Ending    Standing = "ending"     // of a working life or a layer window: one in ten says it is over
	Over      Standing = "over"       // of a working life or a layer window: nine in ten say it is over
	Doubtful  Standing = "doubtful"   // found tacky past its time: not late but wrong
	Closed    Standing = "closed"     // the maker went on to the next step
)

// Standings lists all standings; the list is closed and labels metrics.
func Standings() []Standing {
	return []Standing{CannotSay, Running, Maybe, Ready, Ending, Over, Doubtful, Closed}
}

// StepKind says what a step of a mold waits for.
type StepKind string

const (
	CoatDry     StepKind = "coat"    // a seal coat dries
	ReleaseDry  StepKind = "release" // the release agent dries
	WorkingLife StepKind = "batch"   // the mixed batch can still be poured
	LayerWindow StepKind = "layer"   // the layer on the pattern takes the next one, once it has set and while it bonds
	DemoldTime  StepKind = "cure"    // the rubber on the pattern cures
)

// Projection is what can honestly be told of one step.
type Projection struct {
	Standing  Standing
	Band      Band          // not told when Standing is CannotSay, or Closed before its latest time
	NotBefore time.Time     // a bound where no band can be told; zero = none
	Share     float64       // of the way at the instant of the outlook, likely value, 0..1
	ColdFrom  time.Time     // of a cure that is not done: from when on the air is likely below what its class is doubtful under; zero = not foreseen
	RoomTime  time.Duration // what the same step takes at the material's reference temperature
	Why       []string      // why it cannot be said, and what widened the band
}

// Step is one thing a mold waits for, or waited for.
type Step struct {
	Mark     int64 // the mark that started it
	Kind     StepKind
	Name     string // short name within the mold: coat-1, coat-2, release, batch-1, layer-1, cure
	Title    string // for people
	Material string
	Begun    time.Time
	Ended    time.Time // when the maker went on; zero while open
	Projection
	Recoat   Recoat   // of a coat: when the next one may go over it
	Closes   Band     // of a layer window: when the next layer no longer bonds; its opening is the step's own band
	Cautions []string // to show where the step is started
	Sources  []string // of the numbers behind the projection
}

// Verdict is the answer to "fit to pour?".
type Verdict string

const (
	Fit       Verdict = "fit"
	NotFit    Verdict = "not fit"
	FitCannot Verdict = "cannot say"
)

// ReasonCode is why a shop is not fit to pour. The list is closed and labels metrics.
type ReasonCode string

const (
	ReasonNoAir    ReasonCode = "air-unknown"      // no trusted reading of the air
	ReasonCold     ReasonCode = "air-cold"         // below the rubber's window
	ReasonWarm     ReasonCode = "air-warm"         // above the rubber's window
	ReasonDamp     ReasonCode = "air-damp"         // above 85 % relative humidity, or what the material allows
	ReasonDry      ReasonCode = "air-dry"          // below what the material asks for
	ReasonDew      ReasonCode = "surface-dew"      // pattern less than 3 K above the dew point
	ReasonSurface  ReasonCode = "surface-unknown"  // a surface probe is named but silent
	ReasonCoat     ReasonCode = "coat-wet"         // a coat is not dry for certain
	ReasonRelease  ReasonCode = "release-wet"      // the release agent is not dry for certain
	ReasonPatch    ReasonCode = "patch-missing"    // no test patch was found firm: a caution
	ReasonUnprobed ReasonCode = "surface-unprobed" // the pattern's own temperature is not measured: a caution

	ReasonColdAhead ReasonCode = "cold-ahead"   // the air turns too cold before the cure is half done: a caution where it only may
	ReasonWarmAhead ReasonCode = "warm-ahead"   // the air turns too warm before the working life is over: likewise
	ReasonColdFace  ReasonCode = "surface-cold" // the pattern is colder than the rubber's window: a caution

	ReasonPatchFailed   ReasonCode = "patch-failed"   // a test patch failed on this face, prep and material
	ReasonPatchColder   ReasonCode = "patch-colder"   // the patch that passed was warmer than it is or will be here: a caution
	ReasonPatchOld      ReasonCode = "patch-old"      // it passed too long ago: a caution
	ReasonPatchLot      ReasonCode = "patch-lot"      // it was of another lot of the rubber: a caution
	ReasonPatchDisagree ReasonCode = "patch-disagree" // one failed, and another passed after it: a caution
	ReasonRisky         ReasonCode = "face-risky"     // the face is known to inhibit, and no patch vouches: a caution

	ReasonPartsCold ReasonCode = "parts-cold"   // the parts are colder than they may be poured, or kept: a caution
	ReasonCoarse    ReasonCode = "scale-coarse" // the scale cannot hold the ratio of this batch: a caution
	ReasonRatio     ReasonCode = "ratio-off"    // the parts were weighed off their ratio: a caution
	ReasonLotOld    ReasonCode = "lot-old"      // a lot is past its use-by: a caution
)

// ReasonCodes lists the codes of reasons that decide or caution.
func ReasonCodes() []ReasonCode {
	return []ReasonCode{ReasonNoAir, ReasonCold, ReasonWarm, ReasonDamp, ReasonDry, ReasonDew, ReasonSurface,
		ReasonCoat, ReasonRelease, ReasonPatch, ReasonUnprobed, ReasonColdAhead, ReasonWarmAhead, ReasonColdFace,
		ReasonPatchFailed, ReasonPatchColder, ReasonPatchOld, ReasonPatchLot, ReasonPatchDisagree, ReasonRisky,
		ReasonPartsCold, ReasonCoarse, ReasonRatio, ReasonLotOld}
}

// Reason is one reason behind a verdict.
type Reason struct {
	Code    ReasonCode
	Caution bool   // true = told, but does not decide
	Text    string // for people, temperatures left out where they change with the unit chosen
}

// Fitness is the verdict with every reason.
type Fitness struct {
	Verdict Verdict
	Reasons []Reason
	From    time.Time // of a mold not fit: when it will be, nine in ten; zero = not within the forecast, or waiting does not mend it
	Warmer  *Warmer   // what holding the place warmer from now on would bring; nil = nothing, or not known
}

// MoldOutlook is everything told of one mold.
type MoldOutlook struct {
	Name, Title string
	Place       string
	Surface     string // place of the probe on its pattern; empty = none
	Rubber      string // material planned or mixed
	Begun       time.Time
	Demolded    time.Time // zero while open
	Design      Design    // how it is to be made, as far as told
	Steps       []Step    // in order of time
	Coming      []Coming  // the steps still to come, in order; none where no way to make it was told
	Pour        Fitness   // meaningful until poured
	Poured      bool
	Doubt       *Doubt    // what the checks of cup, patch and mold say; nil while nothing was touched
	Next        string    // the one thing to do next, in words without times
	NextAt      time.Time // when, if that is known; zero = now or not known
	Marks       []Mark    // in effect, in order of time

	Face  string   // what the rubber meets, as the maker typed it; empty = not told
	Prep  []string // coats and release on it, by material, in order; empty = bare
	Risks []Risk   // what the face is known to be poisoned by
	Vouch *Vouch   // the patch that vouches for pouring on it now; nil = none, or poured

	Cup   string    // why to touch the cup's leftover; empty = nothing is poured, or it was touched
	CupAt time.Time // when it is first worth it; zero = cannot be told
}

// Step returns the step called name.
func (m *MoldOutlook) Step(name string) (Step, bool) {
	for _, s := range m.Steps {
		if s.Name == name {
			return s, true
		}
	}
	return Step{}, false
}

// Open reports whether the mold is still in work.
func (m *MoldOutlook) Open() bool { return m.Demolded.IsZero() }

// PlaceOutlook is the air, or the surface, at one place.
type PlaceOutlook struct {
	Name      string
	Probe     string    // the probe that is believed here
	OffProbe  string    // another one here that disagrees with it; empty = none
	OffK      float64   // by how much the believed one is above that, over half an hour, K
	Known     bool      // there is a fresh, trusted temperature
	At        time.Time // of the last trusted reading; zero = never
	TempC     float64   // last trusted; NaN = none
	Humidity  float64   // ratio; NaN = not measured here
	DewPointC float64   // over liquid water; NaN = not known
	Pour      Fitness   // of the air alone, for a rubber of the usual window
	PourMinC  float64   // the lowest temperature at which to pour here, °C
	PourMaxC  float64
	Skill     ForecastSkill // how well it has been foreseen; known only where Ahead is told
	HeatedOff bool          // the heating seems to have gone off; known only where Ahead is told
	Ahead     []Reach       // the temperature to come, hour by hour; only where an open mold stands or a patch cures
}

// ForecastSkill is how well a place has been foreseen of late.
type ForecastSkill struct {
	Days   float64     // on record to judge by; below about 5 an assumed spread sets the bands
	Errors []LeadError // those that are known
}

// LeadError is the mean absolute error of what was foreseen of hourly means.
type LeadError struct {
	Hours  int     // ahead
	ErrorK float64 // K
}

// skillLeads are the hours ahead at which skill is told.
func skillLeads() []int { return []int{1, 6, 24, 72} }

// Reach is what the temperature of a place may be at an instant ahead, °C. The three are told for the
// eye: projections are made along whole paths, never along these.
type Reach struct {
	At                   time.Time
	LowC, LikelyC, HighC float64 // 10, 50 and 90 %
}

// ProbeOutlook is what one probe last said.
type ProbeOutlook struct {
	Name, Place string
	Last        time.Time     // instant of the last trusted reading; zero = never
	Every       time.Duration // how often it should speak
	Silent      bool          // nothing trusted for three intervals, and at least two minutes
	TempC       float64       // last trusted; NaN = none
	Humidity    float64       // ratio; NaN = none
}

// Outlook is everything the model tells at one instant. It is never changed once published.
type Outlook struct {
	At     time.Time // the instant it tells of
	Places []PlaceOutlook
	Probes []ProbeOutlook
	Molds  []MoldOutlook // open ones, and those demolded in the last two days; by time of beginning

	Patches []PatchOutlook // by the time they were set
	Trials  []Trial        // what they say together, by face, prep and material
}

// Place returns the place called name.
func (o *Outlook) Place(name string) (PlaceOutlook, bool) {
	for _, p := range o.Places {
		if p.Name == name {
			return p, true
		}
	}
	return PlaceOutlook{}, false
}

// Mold returns the mold called name.
func (o *Outlook) Mold(name string) (*MoldOutlook, bool) {
	for i := range o.Molds {
		if o.Molds[i].Name == name {
			return &o.Molds[i], true
		}
	}
	return nil, false
}
