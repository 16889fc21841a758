package material

import "time"

// SecondTime is what a data sheet states at a second temperature. Two times of one event give its
// activation energy: between (RefC, Event.Ref) and (TempC, the time here) it is
// R ln(t1/t2) / (1/T1 - 1/T2), and its standard deviation that of the two times carried through. Whoever
// projects may put that in the place of EaJ and EaSDJ, which stay those of the class.
type SecondTime struct {
	TempC       float64       // °C; counts only where one of the times is stated
	WorkingLife time.Duration // 0 = not stated
	Demold      time.Duration // 0 = not stated
	RelSD       float64       // relative standard deviation of each sheet time, first and second; 0 = not stated
	Source      Source
}

// Stated reports whether there is any second time.
func (s SecondTime) Stated() bool { return s.WorkingLife != 0 || s.Demold != 0 }

// Mixing is how the parts of a product go together.
type Mixing struct {
	Parts     []Part  // two or more; none = not stated, or it comes ready mixed
	ByVolume  bool    // the ratio counts volumes; false: weights
	Tolerance float64 // relative error that the ratio of any two parts may have, 0 to below 1; 0 = not stated
	Source    Source
}

// Part is one component of a product.
type Part struct {
	Name       string  // as its container calls it
	Ratio      float64 // its parts in the ratio, above 0: the 10 of 10:1
	GramsPerML float64 // density; 0 = not stated
	JPerGramK  float64 // specific heat; 0 = not stated
}

// Humidities is a range of relative humidity, ratios 0..1, ends included. A limit of 0 is not stated.
type Humidities struct{ Min, Max float64 }

// Holds reports whether a relative humidity is inside.
func (h Humidities) Holds(humidity float64) bool {
	return humidity >= h.Min && (h.Max == 0 || humidity <= h.Max)
}

// Storage is how long a product keeps.
type Storage struct {
	ShelfLife  time.Duration // unopened, from when it was made; 0 = not stated
	OpenedLife time.Duration // once opened; 0 = not stated
	Temp       Window        // what it is to be stored at; zero = not stated
	Source     Source
}

// Lot is one delivery of a product. Dates are midnight UTC; zero = not known.
type Lot struct {
	Number               string
	Made, Opened, Expiry time.Time
}

// UseBy is when a lot is past its use: its expiry date, its shelf life or its life once opened, whichever
// is first. ok is false where nothing tells.
func (m Material) UseBy(l Lot) (at time.Time, ok bool) {
	at = l.Expiry
	for _, end := range []struct {
		from time.Time
		life time.Duration
	}{{l.Made, m.Storage.ShelfLife}, {l.Opened, m.Storage.OpenedLife}} {
		if end.from.IsZero() || end.life == 0 {
			continue
		}
		if until := end.from.Add(end.life); at.IsZero() || until.Before(at) {
			at = until
		}
	}
	return at, !at.IsZero()
}
