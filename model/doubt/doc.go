// Package doubt answers why a platinum-cure rubber is still tacky: it is only late, its surface
// inhibits it, or its batch is bad.
//
// # The question
//
// One batch is mixed. Its leftover stays in the cup, which is the control; the rest is poured on a
// prepared surface, perhaps also on a test patch. The maker touches cup, patch and the edge of the mold
// now and then. A caller keeps the cure age of each (equivalent seconds at the reference temperature)
// and hands over what was found together with ln(age/reference time). The answer is a probability for
// each [Hypothesis], a [Verdict] from a closed list, and the touch that would tell most ([Case.Settle]).
//
// # The model
//
// A thing i is firm once ln(age/reference) passes its ln need x. In a good batch on a clean surface
//
//	x = S + e,  S ~ N(0, shared sd),  e ~ N(0, own sd)
//
// S is common to all things of a batch: spread of the reference time, error of the activation energy
// as far as it was cold, accuracy of the probe. e belongs to one thing: thickness, lag, the finger. So a
// firm cup says how slow this batch in this shop really is, and a tacky patch is measured against that.
//
//   - A surface that inhibits holds up what lies on it: for ever with probability [Priors].SurfaceNever,
//     else by 2 to 8 times, log-uniform in half doublings. It shows at a patch or at the edge of a mold
//     only with probability [Priors].PatchShows and EdgeShows: the edge is not the face that touches the pattern.
//   - A bad batch holds up everything in the same way.
//   - A cup can be off alone (unmixed scrapings, a wall that poisons) while what was poured is well.
//   - "Tacky" is believed: the need lies beyond that age. "Firm" is wrong at the rate [Priors].FalseFirm
//     while the need is not met. "Liquid" is tacky at twice the age ([Priors].GelShare). "Surface
//     spoiled" is a Bayes factor, taken once for each thing.
//   - Gaps in the temperature record move all ages together between their bounds: least, likely and
//     most with weights 1/6, 2/3 and 1/6.
//
// Own errors integrate in closed form, the shared one by the trapezoid rule on one axis of ln need on
// which every delay is a whole number of steps; nothing is drawn at random.
//
// # What the numbers rest on
//
// Every prior in [DefaultPriors] is an assumption: no published rate of inhibition or of spoiled batches
// in mold shops was found. The form of the model is one too, but for the log-normal need, which the
// accelerated-testing literature uses for such times (Nelson, Accelerated Testing, 1990). The simulation
// in testdata is invented data and tests the reckoning, not the priors.
//
// # What it guarantees
//
//   - With no findings the probabilities are the priors.
//   - One thing found tacky later never makes "nothing wrong" more probable, whatever else was found of it.
//   - With a cup that is not firm beside it, what was poured and found tacky later never makes "nothing wrong"
//     more probable against a fault of surface or batch. A cup found tacky later may: a slow cup explains a slow
//     patch. That is what a control is for.
//   - What is tacky past the time by which nine in ten are firm never yields [Wait], nor what is tacky while its
//     cup is firm, nor a spoiled face, nor a surface whose earlier patch failed: poisoned is not slow.
//   - The order of the findings does not matter, to the last bit.
//
// # When not to believe it
//
// Do not believe it for rubber that does not cure by addition (tin-cure, polyurethane), for a patch of
// another batch (that is a case of its own; its outcome enters as [Surface].Patch), below a material's
// floor, or where some products do not cure at all: there age stands still and all three answers look
// alike. It knows nothing of half-mixed batches that are firm in one place and liquid in another, and a
// face that was never touched stays unknown: a mold firm at its edge is not a clean mold.
package doubt
