package material

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
)

// Limits beyond which a number is a slip of the pen or a unit was mistaken. Assumptions, wide on purpose.
const (
	day            = 24 * time.Hour
	longestCure    = 60 * day // resins that need weeks exist
	longestDry     = 60 * day // drying oils need weeks
	longestShelf   = 50 * 365 * day
	mostLnSD       = 2.0   // a factor of seven either way
	mostEaJ        = 300e3 // no cure of a bench is near it
	coldestC       = -40.0
	hottestC       = 200.0
	coldestUseC    = -20.0
	hottestUseC    = 80.0
	hottestRefC    = 60.0
	mostGramsPerML = 25.0
	mostJPerGramK  = 10.0
	mostRatio      = 1000.0
	thickestFilm   = 10_000.0 // µm
)

// slug is a name that is safe in a path, a metric's label and a command line.
var slug = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,30}$`)

// Check reports every value that cannot be, as [Faults]. What is not stated is no fault, but the times
// that a material of its kind is of no use without.
func (m Material) Check() error {
	c := &checker{of: m.Name}
	c.identity(m)
	if m.Cures() {
		c.curing(m)
	} else {
		c.coating(m)
	}
	c.sheet(m)
	if len(c.faults) > 0 {
		return c.faults
	}
	return nil
}

// identity checks what it is called, what it is and the temperature of its times.
func (c *checker) identity(m Material) {
	if !slug.MatchString(m.Name) {
		c.fault("Name", fmt.Sprintf("%q is no short name", m.Name), "write 1 to 31 of a-z, 0-9 and -, not beginning with -")
	}
	if strings.TrimSpace(m.Title) == "" || strings.ContainsAny(m.Title, "\r\n") {
		c.fault("Title", fmt.Sprintf("%q is no title", m.Title), "write one line for people to read")
	}
	if !slices.Contains(Kinds(), m.Kind) {
		c.fault("Kind", fmt.Sprintf("kind %q is unknown", m.Kind), fmt.Sprintf("choose one of %s", list(Kinds())))
	}
	if !m.refSound() {
		c.fault("RefC", fmt.Sprintf("a reference temperature of %s cannot be", degrees(m.RefC)),
			fmt.Sprintf("give the one its times hold at, above 0 °C to %s, as 23 °C", degrees(hottestRefC)))
	}
	for i, text := range m.Cautions {
		if strings.TrimSpace(text) == "" {
			c.fault(fmt.Sprintf("Cautions.%d", i), "a caution is blank", "write what its safety data sheet asks for first")
		}
	}
}

// refSound reports whether there is a reference temperature that others can be compared with.
func (m Material) refSound() bool { return m.RefC > 0 && m.RefC <= hottestRefC }

// sheet checks what a data sheet may add to any material.
func (c *checker) sheet(m Material) {
	if c.optional("GramsPerML", "a density", m.GramsPerML, mostGramsPerML, "g/mL") && m.GramsPerML > 0 {
		c.source("DensityFrom", "the density", m.DensityFrom)
	}
	h := m.Humidity
	low := c.optional("Humidity.Min", "a lowest relative humidity", h.Min, 1, "%")
	high := c.optional("Humidity.Max", "a highest relative humidity", h.Max, 1, "%")
	if low && high && h.Max > 0 && h.Min >= h.Max {
		c.fault("Humidity.Max", fmt.Sprintf("relative humidity from %s to %s is no range", amount(h.Min, "%"), amount(h.Max, "%")), "give the drier limit first")
	}
	c.storage(m.Storage)
	c.lots(m.Lots)
}

func (c *checker) storage(s Storage) {
	shelf := c.time("Storage.ShelfLife", "a shelf life", s.ShelfLife, longestShelf)
	opened := c.time("Storage.OpenedLife", "a life once opened", s.OpenedLife, longestShelf)
	if shelf && opened && s.ShelfLife > 0 && s.OpenedLife > s.ShelfLife {
		c.fault("Storage.OpenedLife", fmt.Sprintf("once opened it keeps for %s, longer than the %s of its shelf life", span(s.OpenedLife), span(s.ShelfLife)), "compare both with the data sheet")
	}
	c.window("Storage.Temp", "a storage temperature", s.Temp, coldestC, hottestC)
	if s.ShelfLife > 0 || s.OpenedLife > 0 || s.Temp != (Window{}) {
		c.source("Storage.Source", "how to store it", s.Source)
	}
}

func (c *checker) lots(lots []Lot) {
	first := map[string]bool{}
	for i, l := range lots {
		field := fmt.Sprintf("Lots.%d", i)
		switch {
		case strings.TrimSpace(l.Number) == "":
			c.fault(field+".Number", "a lot has no number", "write what its label says")
		case first[l.Number]:
			c.fault(field+".Number", fmt.Sprintf("lot %q is here a second time", l.Number), "keep one of them")
		}
		first[l.Number] = true
		if !l.Made.IsZero() && !l.Opened.IsZero() && l.Opened.Before(l.Made) {
			c.fault(field+".Opened", fmt.Sprintf("lot %q was opened before it was made", l.Number), "compare both dates with the label")
		}
		if !l.Made.IsZero() && !l.Expiry.IsZero() && l.Expiry.Before(l.Made) {
			c.fault(field+".Expiry", fmt.Sprintf("lot %q expires before it was made", l.Number), "compare both dates with the label")
		}
	}
}

func list[T ~string](all []T) string {
	words := make([]string, len(all))
	for i, one := range all {
		words[i] = string(one)
	}
	return strings.Join(words, ", ")
}
