package doubt

// Practice is the status of everything in [RiskyMaterials] and [Routes]: makers know it; no study was read.
const Practice = "common practice, no source"

// NoListIsComplete stands with every list of risky materials.
const NoListIsComplete = "No such list is complete, and products change without notice: test a patch on the very surface, prep and material."

// RiskyMaterial is something that is known to inhibit platinum-cure silicone.
type RiskyMaterial struct {
	Name   string // what it is called in a shop
	Why    string // what is held to do the harm
	Remedy string // what makers do about it
}

// RiskyMaterials is a closed list, with the status [Practice]. Show [NoListIsComplete] beside it.
func RiskyMaterials() []RiskyMaterial {
	return []RiskyMaterial{
		{"modeling clay that holds sulfur", "sulfur", "use a sulfur-free clay, or seal and patch; some seep through sealers"},
		{"tin-cure silicone, mold or residue", "organotin catalyst", "keep tools, cups and gloves of tin and platinum apart; do not pour one on the other"},
		{"polyurethane rubber", "amines and tin catalyst, more so when fresh", "seal and patch; keep tools apart"},
		{"polyurethane or epoxy resin not fully cured", "amines", "let it cure out, warm if its sheet allows, then seal and patch"},
		{"natural latex, fresh or dried", "sulfur and ammonia", "no latex molds, gloves or brushes near the batch"},
		{"vulcanized rubber: bands, hoses, stoppers, O-rings", "sulfur", "use platinum-cured silicone or clean polyethylene instead"},
		{"gloves of latex, or treated with aloe or powder", "sulfur, ammonia, additives", "plain vinyl gloves, or nitrile that a patch has passed"},
		{"masking tape and other rubber-based adhesives", "rubber adhesive", "keep it off the face; polyester or polyethylene tape, patched"},
		{"paint, varnish or clear sealer that is not dry through", "solvent, driers, amines", "wait until dry through, then patch; more coats need more time"},
		{"alkyd and oil paint, linseed oil", "metal driers", "seal with something else when dry, then patch"},
		{"resin prints hardened by light", "photoinitiator and monomer left in the print", "wash, harden fully, warm if the sheet allows, seal, patch"},
		{"filler or body putty of polyester", "styrene, amine accelerator", "let it cure out, seal, patch"},
		{"wood that is resinous or wet, leather, some papers", "tannins, sulfides, water", "seal all sides, patch"},
		{"soldering flux and cut metal with sulfurized oil", "amines, sulfur", "degrease, patch"},
		{"pigment or filler not meant for platinum silicone", "sulfur, amines, tin", "try it in a small cup of its own first"},
	}
}
