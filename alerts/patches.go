package alerts

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"pourward/model"
)

func patchDue() Definition {
	const name = "PourwardPatchDue"
	return Definition{
		Name:     name,
		Severity: Info,
		Meaning:  "A test patch can be read: a touch now tells whether its surface lets the rubber cure.",
		When: "Nine in ten patches like it are firm by now, by the temperatures it had (state `due`), until what was found of " +
			"it decides, or it is given up.",
		WhatToDo: "Touch the patch and its cup, and record each as a check: firm, tacky or spoiled. Tacky beside a firm cup " +
			"means that the surface inhibits; tacky both, that the batch is bad. Wear gloves as its safety data sheet asks.",
		Labels:    []string{"patch"},
		Condition: duePatches,
		Expr:      latched(name, patchDueExpr()),
		Summary:   "A test patch can be read.",
		Description: "Patch {{ $labels.patch }} wants to be touched, and its cup" +
			"{{ if lt 0.0 $value }}: nine in ten like it were firm by " + localTime + "{{ end }}.",
	}
}

func duePatches(s *model.Snapshot) []Instance {
	var found []Instance
	for i := range s.Outlook.Patches {
		if p := &s.Outlook.Patches[i]; p.State == model.PatchDue {
			found = append(found, Instance{map[string]string{"patch": p.Name}, unixSeconds(p.TouchFrom(), math.NaN())})
		}
	}
	return found
}

func patchDueExpr() string {
	return fmt.Sprintf(`pourward_patch_touch_from_timestamp_seconds
and on (instance, job, patch) pourward_patch_state{pourward_patch_state=%[1]q} == 1
or
max without (pourward_patch_state) (pourward_patch_state{pourward_patch_state=%[1]q} == 1) * NaN`, model.PatchDue)
}

// vouchSpan is for how long it is remembered that a patch vouched: the loss of it is news, not that there
// never was one. A working day's morning against its evening. Common practice, no source.
const vouchSpan = 6 * time.Hour

// outgrown are the reasons for which a patch that passed does not vouch.
func outgrown() []model.ReasonCode {
	return []model.ReasonCode{model.ReasonPatchColder, model.ReasonPatchOld, model.ReasonPatchLot}
}

func patchNoLongerVouches() Definition {
	const name = "PourwardPatchNoLongerVouches"
	return Definition{
		Name:     name,
		Severity: Warning,
		Meaning:  "The test patch that vouched for a pour does so no more: what it proved does not hold for the pour as it is now.",
		When: "A patch vouched for an open mold within the last six hours, and now it is colder than the patch was, or will be " +
			"before a pour has cured; or the patch passed too long ago; or the rubber mixed is of another lot. It ends when that " +
			"reason is gone, half an hour after, or when the mold is poured. The daemon remembers nothing from before its start; " +
			"Prometheus does.",
		WhatToDo: "Do not go by the old patch. Set a new one on the same surface, with the same prep and lot, where it is as cold as the " +
			"mold will be; or, if it is only colder, wait or warm the place until the patch vouches again. " + heaterCare,
		For:        30 * time.Minute,
		KeepFiring: 30 * time.Minute,
		Labels:     []string{"mold", "reason"},
		Recall:     vouchesLost,
		Stays:      func(s *model.Snapshot) []Instance { return outgrownOf(s, anyMold) },
		Expr:       bridged(name, vouchLostExpr(name)),
		Summary:    "A test patch no longer vouches for a pour.",
		Description: "The test patch that vouched for {{ $labels.mold }} does so no more: " +
			"{{ if eq $labels.reason \"" + string(model.ReasonPatchColder) + "\" }}it is colder there than the patch was, or will be before a pour has cured" +
			"{{ else if eq $labels.reason \"" + string(model.ReasonPatchLot) + "\" }}the rubber is of another lot" +
			"{{ else }}it passed too long ago{{ end }}.",
	}
}

// vouchesLost finds the reasons for which no patch vouches for a mold for which one did lately.
func vouchesLost() func(*model.Snapshot) []Instance {
	past := newMemory[bool](vouchSpan)
	return func(s *model.Snapshot) []Instance {
		past.turn(s)
		return outgrownOf(s, func(m *model.MoldOutlook) bool {
			all := past.note(m.Name, s.Outlook.At, m.Vouch != nil)
			return slices.ContainsFunc(all, func(x seen[bool]) bool { return x.what })
		})
	}
}

func anyMold(*model.MoldOutlook) bool { return true }

// outgrownOf lists what keeps patches that passed from vouching for the molds not yet poured for which is is
// true.
func outgrownOf(s *model.Snapshot, is func(*model.MoldOutlook) bool) []Instance {
	var found []Instance
	for i := range s.Outlook.Molds {
		m := &s.Outlook.Molds[i]
		if !Unpoured(m) || !is(m) {
			continue
		}
		for _, code := range outgrown() {
			if slices.ContainsFunc(m.Pour.Reasons, func(r model.Reason) bool { return r.Code == code }) {
				found = append(found, Instance{map[string]string{"mold": m.Name, "reason": string(code)}, math.NaN()})
			}
		}
	}
	return found
}

func vouchLostExpr(name string) string {
	words := make([]string, 0, len(outgrown()))
	for _, code := range outgrown() {
		words = append(words, string(code))
	}
	return fmt.Sprintf(`(pourward_mold_pour_reason{reason=~%[1]q} == 1) * NaN
and on (instance, job, mold) max_over_time(pourward_mold_patch_vouches[%[2]s]) == 1
or
(pourward_mold_pour_reason{reason=~%[1]q} == 1) * NaN
and on (instance, job, mold, reason) %[3]s`, strings.Join(words, "|"), promDuration(vouchSpan), firing(name))
}
