// Package model folds readings and marks into an [Outlook]: what is dry, how much working life is
// left, when the mold may come off, and whether the shop is fit to pour.
//
// It is pure: no clock, no files, no network. What it tells at an instant depends only on the set of
// readings and marks it was given, not on the order in which they came, so the record folded again
// gives the same bits.
package model
