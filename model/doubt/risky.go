package doubt

import (
	"slices"
	"strings"
	"unicode"
)

// Practice is the status of everything in [RiskyMaterials] and [Routes]: makers know it; no study was read.
const Practice = "common practice, no source"

// NoListIsComplete stands with every list of risky materials.
const NoListIsComplete = "No such list is complete, and products change without notice: test a patch on the very surface, prep and material."

// RiskyMaterial is something that is known to inhibit platinum-cure silicone.
type RiskyMaterial struct {
	Name   string // what it is called in a shop
	Why    string // what is held to do the harm
	Remedy string // what makers do about it

	words  []string // by which a maker may call it, as [plainWords] writes them
	unless []string // words that say it is another thing
}

// RiskyMaterials is a closed list, with the status [Practice]. Show [NoListIsComplete] beside it.
func RiskyMaterials() []RiskyMaterial {
	return []RiskyMaterial{
		{"modeling clay that holds sulfur", "sulfur", "use a sulfur-free clay, or seal and patch; some seep through sealers",
			[]string{"oil clay", "oil based clay", "modeling clay", "modelling clay", "sculpting clay", "sulfur clay", "sulfur"},
			[]string{"sulfur free", "no sulfur", "without sulfur", "non sulfur", "water clay", "water based clay"}},
		{"tin-cure silicone, mold or residue", "organotin catalyst", "keep tools, cups and gloves of tin and platinum apart; do not pour one on the other",
			[]string{"tin cure", "tin cured", "tin silicone", "tin rubber", "condensation cure", "condensation silicone", "organotin"},
			nil},
		{"polyurethane rubber", "amines and tin catalyst, more so when fresh", "seal and patch; keep tools apart",
			[]string{"polyurethane rubber", "urethane rubber", "pu rubber", "polyurethane", "urethane"},
			[]string{"polyurethane resin", "urethane resin", "pu resin", "polyurethane foam"}},
		{"polyurethane or epoxy resin not fully cured", "amines", "let it cure out, warm if its sheet allows, then seal and patch",
			[]string{"polyurethane resin", "urethane resin", "pu resin", "epoxy", "epoxy resin", "casting resin"},
			nil},
		{"natural latex, fresh or dried", "sulfur and ammonia", "no latex molds, gloves or brushes near the batch",
			[]string{"latex", "natural rubber"},
			[]string{"latex paint", "latex free"}},
		{"vulcanized rubber: bands, hoses, stoppers, O-rings", "sulfur", "use platinum-cured silicone or clean polyethylene instead",
			[]string{"vulcanized", "vulcanized rubber", "rubber band", "rubber bands", "rubber hose", "rubber stopper", "o ring", "o rings", "neoprene"},
			nil},
		{"gloves of latex, or treated with aloe or powder", "sulfur, ammonia, additives", "plain vinyl gloves, or nitrile that a patch has passed",
			[]string{"latex glove", "latex gloves", "aloe", "powdered gloves", "powdered glove"},
			nil},
		{"masking tape and other rubber-based adhesives", "rubber adhesive", "keep it off the face; polyester or polyethylene tape, patched",
			[]string{"masking tape", "tape", "rubber cement", "contact cement", "adhesive", "glue"},
			[]string{"polyester tape", "polyethylene tape"}},
		{"paint, varnish or clear sealer that is not dry through", "solvent, driers, amines", "wait until dry through, then patch; more coats need more time",
			[]string{"paint", "painted", "varnish", "varnished", "clear coat", "clear sealer", "lacquer", "lacquered", "primer", "primed", "spray paint", "enamel"},
			nil},
		{"alkyd and oil paint, linseed oil", "metal driers", "seal with something else when dry, then patch",
			[]string{"alkyd", "oil paint", "oil painted", "linseed", "linseed oil"},
			nil},
		{"resin prints hardened by light", "photoinitiator and monomer left in the print", "wash, harden fully, warm if the sheet allows, seal, patch",
			[]string{"resin print", "resin prints", "printed resin", "photopolymer", "sla", "dlp", "msla", "uv resin", "light cured resin", "light hardened resin"},
			nil},
		{"filler or body putty of polyester", "styrene, amine accelerator", "let it cure out, seal, patch",
			[]string{"filler", "body putty", "putty", "polyester putty", "polyester resin"},
			nil},
		{"wood that is resinous or wet, leather, some papers", "tannins, sulfides, water", "seal all sides, patch",
			[]string{"wood", "wooden", "pine", "spruce", "cedar", "plywood", "leather", "paper", "cardboard"},
			nil},
		{"soldering flux and cut metal with sulfurized oil", "amines, sulfur", "degrease, patch",
			[]string{"solder", "soldered", "flux", "cutting oil"},
			nil},
		{"pigment or filler not meant for platinum silicone", "sulfur, amines, tin", "try it in a small cup of its own first",
			[]string{"pigment", "pigmented"},
			nil},
	}
}

// RiskyIn lists what in a face, as its maker calls it, is known to inhibit. Only whole words count, and
// American and British spellings alike; the words are a table of [Practice], and what it does not find is not
// harmless for that: [NoListIsComplete].
func RiskyIn(face string) []RiskyMaterial {
	said := " " + plainWords(face) + " "
	holds := func(words []string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(said, " "+w+" ") })
	}
	var out []RiskyMaterial
	for _, m := range RiskyMaterials() {
		if holds(m.words) && !holds(m.unless) {
			out = append(out, m)
		}
	}
	return out
}

// plainWords writes words alike: lower case, one space between them, no punctuation, American spelling.
func plainWords(text string) string {
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	return strings.NewReplacer("sulph", "sulf", "vulcanis", "vulcaniz").Replace(strings.Join(words, " "))
}
