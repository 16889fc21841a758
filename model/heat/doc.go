// Package heat follows the temperature through pattern, rubber and shell, and
// with it how far every part of the rubber has cured.
//
// An air probe says what the room does; the rubber follows hours later, from
// the skin inwards, and a cold pattern holds its face back for longer still.
// Which part is the slowest cannot be known beforehand: it is the pattern face
// when the pattern was cold, and the skin when the room turns cold. So each
// cell keeps its own cure age and the slowest one counts.
//
// The scheme is a cell-centered finite volume in one dimension. A body with
// edges follows its air sooner than a slab of its thickest section: so the slab
// is the late side for a mold that warms, and the early side for one whose shop
// turns cold.
package heat
