// Package dry keeps the drying clock of one coat or release agent: how far it
// has dried in the air it really had, and what that air forbids.
//
// The clock has two stages. The wet stage loses free liquid at a nearly
// constant rate; the film stage lets the rest diffuse out of the closed film.
// Both are measured in parts of the dry time on the product's own data sheet,
// so the model only ever scales a time that somebody else measured.
//
// Absorbent grounds (plaster, clay, wood) are outside what a data sheet
// covers: ASTM D1640 limits its drying times to smooth non-absorbent panels.
// A touch test closes a coat; the clock only says when one is worth making.
package dry
