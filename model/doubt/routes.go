package doubt

// Cautions that stand where a step is started. They never replace a product's safety data sheet.
const (
	CautionCleaning   = "Solvent for cleaning off: ventilate, no flame, spark or heater, gloves and respirator as its safety data sheet asks; local codes apply."
	CautionTinApart   = "Tin-cure rubber poisons platinum-cure silicone: separate tools, cups, gloves and shelf; organotin: follow its safety data sheet."
	CautionIsocyanate = "Polyurethane resin holds isocyanates, which can sensitize for life: no skin contact, no spraying or heating without the respiratory protection and licensed practice that the safety data sheet and local codes require."
)

// Route is a way on from a surface that inhibits.
type Route struct {
	Title    string
	Steps    []string
	Cautions []string
}

// Routes lists the ways on, in the order to try them. Their status is [Practice].
func Routes() []Route {
	return []Route{
		{
			Title: "Seal, release, patch again",
			Steps: []string{
				"Clean off every trace of uncured rubber; it does not come right by waiting or by heat.",
				"Seal with something that is itself harmless, in thin coats, each dry through.",
				"Release, and let it dry.",
				"Patch again, at the temperature of the pour, with its own cup; pour only when the patch is firm.",
			},
			Cautions: []string{CautionCleaning},
		},
		{
			Title: "Another material",
			Steps: []string{
				"Take a rubber that this surface does not poison, such as tin-cure silicone, if what will be cast in it allows.",
				"Patch it all the same.",
			},
			Cautions: []string{CautionTinApart},
		},
		{
			Title: "In two steps, by a pattern of resin",
			Steps: []string{
				"Mold the pattern in tin-cure rubber.",
				"Cast a pattern of resin in that mold, and let it cure out.",
				"Clean, seal and release the resin pattern: it has lain on tin, and fresh resin inhibits too.",
				"Patch it, then mold it in platinum-cure silicone with clean tools.",
			},
			Cautions: []string{CautionTinApart, CautionIsocyanate},
		},
	}
}
