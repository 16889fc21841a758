package material

import "time"

// Room is the middle of the room temperatures at which data-sheet times hold (21 to 24 °C,
// 70 to 75 °F), °C. The generic classes state their times there.
const Room = 22.5

// Cautions that belong to a step whatever the product. They never replace its safety data sheet.
const (
	CautionSolvent    = "Solvent vapor: ventilate, keep flames, sparks and heaters away, wear the respirator and gloves the product's safety data sheet asks for. Local codes apply."
	CautionSilicone   = "Wear gloves (not latex: it poisons platinum-cure silicone) and eye protection; follow the product's safety data sheet."
	CautionTin        = "Contains an organotin catalyst: gloves, eye protection and fresh air as its safety data sheet asks. It poisons platinum-cure silicone: separate tools, cups and gloves."
	CautionIsocyanate = "Contains isocyanates, which can sensitize for life: no skin contact, no spraying or heating without the respiratory protection and licensed practice that the safety data sheet and local codes require."
	CautionEpoxy      = "Resin and hardener sensitize skin: gloves, eye protection, fresh air, as the safety data sheet asks. A large mass can heat itself until it smokes."
	CautionPlaster    = "Plaster dust harms lungs and eyes, and setting plaster gets hot: never enclose a hand or limb in it; follow the safety data sheet."
	CautionHeater     = "Never leave a heater alone with solvent or curing work; keep it clear of vapor, sheets and sleeves; local codes apply."
)

func practice() Source {
	return Source{Status: Practice, Text: "times usual for the class at 21-24 °C"}
}

func eaOrder() Source {
	return Source{Status: Assumption, Text: "prior of the class; rates of such cures about double for 10 °C"}
}

func floorNote() Source {
	return Source{Status: Assumption, Text: "no projection is made below the floor; some mold rubbers do not cure below about 15 °C"}
}

// knownRange is what a generic class is taken to be known for, °C: an assumption, since data sheets state
// one temperature and no standard covers a bench.
func knownRange() Window { return Window{MinC: 5, MaxC: 35} }

func pourNote() Source {
	return Source{Status: Practice, Text: "data-sheet times hold at 21-24 °C; makers pour from about 18 °C up"}
}

func dryNote() Source {
	return Source{Status: Practice, Text: "time at 21-24 °C; slowing by the latent heat of the solvent"}
}

// Generic returns the built-in generic classes. They carry no brand; a product's own data sheet is
// better than any of them.
func Generic() *Shelf {
	return NewShelf(
		platinum("platinum-slow", "Platinum-cure silicone, slow", 30*time.Minute, 4*time.Hour),
		platinum("platinum-fast", "Platinum-cure silicone, fast", 6*time.Minute, 40*time.Minute),
		tin(), polyurethaneRubber(), polyurethaneResin(), epoxy(), plaster(),
		sealer("lacquer", "Sealer, resin in solvent", Lacquer, 60*time.Minute),
		sealer("shellac", "Sealer, resin in alcohol", Alcohol, 45*time.Minute),
		sealer("water-borne", "Sealer, water-borne", WaterBorne, 90*time.Minute),
		release("wax-naphtha", "Release, wax in light naphtha", LightNaphtha, 25*time.Minute),
		release("wax-spirit", "Release, wax in mineral spirit", MineralSpirit, 45*time.Minute),
	)
}

// What to look for before demolding: common practice, no source.
const (
	firmTest = "The cup's leftover is firm: no tack, and a fingernail leaves no mark."
	hardTest = "The cup's leftover is hard and cool: a fingernail leaves no mark."
)

// densityNote is of what fills a rubber or resin: more of it, more weight. Weigh a full measure for better.
func densityNote() Source {
	return Source{Status: Assumption, Text: "middle of the class; fillers move it by a tenth either way"}
}

// layered states when a brushed rubber takes its next layer: it has set and is tacky still.
func layered(m Material) Material {
	from := Source{Status: Assumption, Text: "set but tacky from about twice the working life until about the demold time; a gloved finger decides"}
	m.LayerEarliest, m.LayerLatest = m.Demold, m.Demold
	m.LayerEarliest.Ref = 2 * m.WorkingLife.Ref
	m.LayerEarliest.LnSD, m.LayerLatest.LnSD = 0.3, 0.3
	m.LayerEarliest.Source, m.LayerLatest.Source = from, from
	return m
}

func platinum(name, title string, work, demold time.Duration) Material {
	return layered(Material{
		Name: name, Title: title, Kind: Rubber, RefC: Room,
		WorkingLife: Event{Ref: work, LnSD: 0.15, EaJ: 50e3, EaSDJ: 12e3, Source: practice(), EaFrom: eaOrder()},
		Demold:      Event{Ref: demold, LnSD: 0.15, EaJ: 55e3, EaSDJ: 15e3, Source: practice(), EaFrom: eaOrder()},
		Known:       knownRange(), FloorC: 0, DoubtBelowC: 15, DoubtFrom: floorNote(),
		Pour: Window{MinC: 18, MaxC: 32}, PourFrom: pourNote(),
		Inhibitable: true,
		DemoldTest:  firmTest, GramsPerML: 1.15, DensityFrom: densityNote(),
		Cautions: []string{CautionSilicone},
	})
}

func tin() Material {
	return layered(Material{
		Name: "tin-silicone", Title: "Tin-cure silicone", Kind: Rubber, RefC: Room,
		WorkingLife: Event{Ref: 45 * time.Minute, LnSD: 0.2, EaJ: 45e3, EaSDJ: 15e3, Source: practice(), EaFrom: eaOrder()},
		Demold:      Event{Ref: 16 * time.Hour, LnSD: 0.25, EaJ: 45e3, EaSDJ: 15e3, Source: practice(), EaFrom: eaOrder()},
		Known:       knownRange(), FloorC: 5, DoubtBelowC: 15, DoubtFrom: floorNote(),
		Pour: Window{MinC: 18, MaxC: 32}, PourFrom: pourNote(),
		DemoldTest: firmTest, GramsPerML: 1.2, DensityFrom: densityNote(),
		Cautions: []string{CautionTin},
	})
}

func polyurethaneRubber() Material {
	return layered(Material{
		Name: "polyurethane-rubber", Title: "Polyurethane rubber", Kind: Rubber, RefC: Room,
		WorkingLife: Event{Ref: 15 * time.Minute, LnSD: 0.2, EaJ: 43.6e3, EaSDJ: 12e3, Source: practice(), EaFrom: polyurethaneEa()},
		Demold:      Event{Ref: 16 * time.Hour, LnSD: 0.25, EaJ: 43.6e3, EaSDJ: 12e3, Source: practice(), EaFrom: polyurethaneEa()},
		Known:       knownRange(), FloorC: 5, DoubtBelowC: 15, DoubtFrom: floorNote(),
		Pour: Window{MinC: 18, MaxC: 30}, PourFrom: pourNote(),
		DemoldTest: firmTest, GramsPerML: 1.05, DensityFrom: densityNote(),
		Cautions: []string{CautionIsocyanate},
	})
}

func polyurethaneResin() Material {
	m := polyurethaneRubber()
	m.Name, m.Title, m.Kind = "polyurethane-resin", "Polyurethane casting resin", Resin
	m.WorkingLife.Ref, m.Demold.Ref = 3*time.Minute, 20*time.Minute
	m.LayerEarliest, m.LayerLatest = Event{}, Event{} // it is poured, not brushed
	m.DemoldTest = hardTest
	return m
}

// polyurethaneEa is the one published pair of the class; only its ratio between temperatures is used.
func polyurethaneEa() Source {
	return Source{Status: Published, Text: "43.59 kJ/mol, polyether/MDI two-part, Influences of temperature and humidity on polyether-based polyurethane curing quality (2013), abstract; spread assumed"}
}

func epoxy() Material {
	ea := Source{Status: Published, Text: "55-60 kJ/mol, primary amine, Thermochim. Acta 447 (2006) 167-177, abstract; spread assumed"}
	return Material{
		Name: "epoxy", Title: "Epoxy casting resin", Kind: Resin, RefC: Room,
		WorkingLife: Event{Ref: 30 * time.Minute, LnSD: 0.2, EaJ: 57.5e3, EaSDJ: 12e3, Source: practice(), EaFrom: ea},
		Demold:      Event{Ref: 24 * time.Hour, LnSD: 0.25, EaJ: 57.5e3, EaSDJ: 12e3, Source: practice(), EaFrom: ea},
		Known:       knownRange(), FloorC: 5, DoubtBelowC: 15,
		DoubtFrom: Source{Status: Published, Text: "epoxies slow dramatically or stop below 5 °C, marine painting handbooks"},
		Pour:      Window{MinC: 18, MaxC: 30}, PourFrom: pourNote(),
		DemoldTest: hardTest, GramsPerML: 1.1, DensityFrom: densityNote(),
		Cautions: []string{CautionEpoxy},
	}
}

func plaster() Material {
	flat := Source{Status: Published, Text: "induction period constant from 0 to 40 °C, Ridge, Nature 184 (1959) 47-48"}
	return Material{
		Name: "plaster", Title: "Gypsum plaster", Kind: Plaster, RefC: Room,
		WorkingLife: Event{Ref: 8 * time.Minute, LnSD: 0.3, Source: practice(), EaFrom: flat},
		Demold:      Event{Ref: 45 * time.Minute, LnSD: 0.3, Source: practice(), EaFrom: flat},
		Known:       knownRange(), FloorC: 0, DoubtBelowC: 0, DoubtFrom: flat,
		Pour: Window{MinC: 5, MaxC: 40}, PourFrom: flat,
		DemoldTest: hardTest, GramsPerML: 1.6,
		DensityFrom: Source{Status: Assumption, Text: "slurry of about 70 parts of water to 100 of plaster by weight"},
		Cautions:    []string{CautionPlaster},
	}
}

func sealer(name, title string, c Class, ref time.Duration) Material {
	cautions := []string{CautionSolvent, CautionHeater}
	if c == WaterBorne {
		cautions = nil
	}
	return Material{
		Name: name, Title: title, Kind: Sealer, RefC: Room,
		Coat:     Coat{Class: c, Ref: ref, RefHumidity: 0.5, Source: dryNote()},
		Cautions: cautions,
	}
}

func release(name, title string, c Class, ref time.Duration) Material {
	return Material{
		Name: name, Title: title, Kind: Release, RefC: Room,
		Coat:     Coat{Class: c, Ref: ref, RefHumidity: 0.5, Source: dryNote()},
		Cautions: []string{CautionSolvent, CautionHeater},
	}
}
