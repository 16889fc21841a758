package model

import (
	"cmp"
	"slices"
	"strings"
)

// trials puts all patches of one face, prep and material together, by face, prep and material.
func (t *teller) trials() []Trial {
	type key struct{ face, prep, material string }
	all := t.proven()
	groups := map[key][]*PatchOutlook{}
	for i := range all {
		p := &all[i]
		k := key{PlainFace(p.Face), strings.Join(p.Prep, "\n"), p.Material}
		groups[k] = append(groups[k], p)
	}
	keys := make([]key, 0, len(groups))
	for k := range groups {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b key) int {
		return cmp.Or(strings.Compare(a.face, b.face), strings.Compare(a.prep, b.prep), strings.Compare(a.material, b.material))
	})
	out := make([]Trial, 0, len(keys))
	for _, k := range keys {
		out = append(out, t.trial(groups[k]))
	}
	return out
}

// trial is what patches of one kind, in order of time, say together.
func (t *teller) trial(all []*PatchOutlook) Trial {
	newest := all[len(all)-1]
	o := Trial{Face: newest.Face, Prep: newest.Prep, Material: newest.Material, Result: TrialOpen, At: newest.Set, Lot: newest.Lot}
	var passed, failed, firm *PatchOutlook
	for _, p := range all {
		switch {
		case p.State == PatchFailed && (failed == nil || p.ReadAt.After(failed.ReadAt)):
			failed = p
		case p.State == PatchPassed:
			if firm == nil || p.Cold.compare(firm.Cold) < 0 {
				firm = p
			}
			if passed == nil || p.ReadAt.After(passed.ReadAt) {
				passed = p
			}
		}
		o.Patches = append(o.Patches, p.Name)
	}
	slices.Reverse(o.Patches)
	switch {
	case failed != nil && passed != nil && passed.ReadAt.After(failed.ReadAt):
		o.Result = TrialDisagree
	case failed != nil:
		o.Result, o.At, o.Lot = TrialFailed, failed.ReadAt, failed.Lot
	case passed != nil:
		o.Result = TrialPassed
	}
	if firm != nil && o.Result != TrialFailed {
		o.Cold, o.At, o.Lot, o.Old = firm.Cold, firm.ReadAt, firm.Lot, t.stale(passed)
	}
	return o
}
