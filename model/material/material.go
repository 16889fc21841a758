// Package material holds what is known of the rubbers, sealers and release agents a maker uses:
// reference times, how they move with temperature, how sure they are, and where each number is from.
package material

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Kind says what a material is used as.
type Kind string

const (
	Rubber  Kind = "rubber"  // cast or brushed, cures, is demolded
	Resin   Kind = "resin"   // cast, cures hard, is demolded
	Plaster Kind = "plaster" // sets by hydration, hardly moved by temperature
	Sealer  Kind = "sealer"  // coat that dries on the pattern
	Release Kind = "release" // release agent that dries on the pattern
)

// Kinds lists every kind.
func Kinds() []Kind { return []Kind{Rubber, Resin, Plaster, Sealer, Release} }

// Status says what a number rests on, from the strongest to the weakest.
type Status string

const (
	DataSheet  Status = "data sheet"                 // of the maker's own product
	Published  Status = "published"                  // a source anyone can read
	Practice   Status = "common practice, no source" // what makers do; nobody measured it for us
	Assumption Status = "assumption"                 // our judgement, stated so that it can be challenged
)

// Source says where a number is from.
type Source struct {
	Status Status
	Text   string // which sheet, publication or reasoning
}

// String gives the source in one line.
func (s Source) String() string {
	if s.Text == "" {
		return string(s.Status)
	}
	return fmt.Sprintf("%s: %s", s.Status, s.Text)
}

// Event is a moment a curing material reaches: the end of its working life, its demold time. Each has
// a reference time and an activation energy of its own; they need not share one, because inhibitor is
// used up first and the network grows after.
type Event struct {
	Ref    time.Duration // median time at the material's reference temperature; 0 = the material has no such event
	LnSD   float64       // standard deviation of ln(time) at the reference temperature
	EaJ    float64       // activation energy, J/mol; 0 = temperature does not move it
	EaSDJ  float64       // its standard deviation, J/mol
	Cov    float64       // covariance of ln(time) and activation energy, J/mol; 0 unless both were learned together
	Source Source        // of the time
	EaFrom Source        // of the activation energy
}

// Known reports whether the material has this event.
func (e Event) Known() bool { return e.Ref > 0 }

// Class names the way a coat gives up its solvent.
type Class string

const (
	Lacquer       Class = "lacquer"        // resin in solvent
	Alcohol       Class = "alcohol"        // shellac and other resins in alcohol
	WaterBorne    Class = "water-borne"    // dispersion, film of polyvinyl alcohol, soap
	LightNaphtha  Class = "light naphtha"  // wax or oil in a fast naphtha
	Naphtha       Class = "naphtha"        // wax or oil in a painter's naphtha
	MineralSpirit Class = "mineral spirit" // wax or oil in a slow spirit
	WaitOnly      Class = "wait only"      // never dries: neat wax, petrolatum, non-drying oil
)

// Classes lists every class of coat.
func Classes() []Class {
	return []Class{Lacquer, Alcohol, WaterBorne, LightNaphtha, Naphtha, MineralSpirit, WaitOnly}
}

// Coat is how a sealer or release agent dries.
type Coat struct {
	Class       Class
	Ref         time.Duration // dry at the reference air, likely value
	RefHumidity float64       // ratio 0..1
	Source      Source

	// What a data sheet may add; 0 = not stated.
	RecoatFrom      time.Duration // after this the next coat may go on, at the reference air
	RecoatUntil     time.Duration // after this it no longer bonds, or must be sanded first
	FilmMicrometers float64       // thickness of the dry film that these times hold for
}

// Window is a range of temperature, °C, ends included.
type Window struct{ MinC, MaxC float64 }

// Holds reports whether tempC is inside.
func (w Window) Holds(tempC float64) bool { return tempC >= w.MinC && tempC <= w.MaxC }

// Material is one product or generic class.
type Material struct {
	Name  string // short name used in marks and commands
	Title string // for people
	Kind  Kind
	RefC  float64 // reference temperature of all its times, °C

	// Of rubbers, resins and plasters.
	WorkingLife Event
	Demold      Event
	Known       Window  // temperatures its times are known for, °C; the band widens outside
	FloorC      float64 // below it the rate is taken as zero and no projection is made, °C
	DoubtBelowC float64 // below it some products of the class do not cure at all, °C
	DoubtFrom   Source  // of the two temperatures above
	Pour        Window  // air, pattern and parts should be inside to pour
	PourFrom    Source
	Inhibitable bool // poisoned while uncured by what it touches

	// What the data sheet of a rubber, resin or plaster may add; zero = not stated.
	LayerEarliest Event      // brushed layers: the next may go on, counted from when the last was brushed on
	LayerLatest   Event      // after this the next no longer bonds
	DemoldTest    string     // what to look for before demolding, in words
	Second        SecondTime // the same times at a second temperature
	Mixing        Mixing
	GramsPerML    float64 // density of the mix, or of what comes ready mixed, before it cures or dries
	DensityFrom   Source

	// Of sealers and release agents.
	Coat Coat

	// Of any; zero = not stated.
	Humidity Humidities // relative humidity of the air it may be used in
	Storage  Storage
	Lots     []Lot // the containers at hand

	Cautions []string // shown where the step is started
}

// Cures reports whether the material is mixed, poured and demolded.
func (m Material) Cures() bool { return m.Kind == Rubber || m.Kind == Resin || m.Kind == Plaster }

// Shelf is the set of materials marks may name.
type Shelf struct{ byName map[string]Material }

// NewShelf returns a shelf of the given materials; a later one replaces an earlier of the same name.
func NewShelf(materials ...Material) *Shelf {
	s := &Shelf{byName: make(map[string]Material, len(materials))}
	for _, m := range materials {
		s.byName[m.Name] = m
	}
	return s
}

// With returns a shelf that holds more materials too; one of the same name takes the place of the old.
func (s *Shelf) With(materials ...Material) *Shelf {
	more := NewShelf()
	maps.Copy(more.byName, s.byName)
	maps.Copy(more.byName, NewShelf(materials...).byName)
	return more
}

// Find returns the material called name. The error lists what there is.
func (s *Shelf) Find(name string) (Material, error) {
	if m, ok := s.byName[name]; ok {
		return m, nil
	}
	return Material{}, fmt.Errorf("no material is called %q; there are: %s", name, strings.Join(s.Names(), ", "))
}

// Names lists all names in order.
func (s *Shelf) Names() []string {
	names := make([]string, 0, len(s.byName))
	for n := range s.byName {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}

// OfKind lists the materials of the given kinds in order of name.
func (s *Shelf) OfKind(kinds ...Kind) []Material {
	var out []Material
	for _, n := range s.Names() {
		if m := s.byName[n]; slices.Contains(kinds, m.Kind) {
			out = append(out, m)
		}
	}
	return out
}
