package heat

import (
	"errors"
	"fmt"
	"math"
)

// Shape says how the layers are curved: heat passes through faces whose area
// grows with the radius to the power 0, 1 or 2.
type Shape uint8

// The closed list of shapes.
const (
	Slab Shape = iota
	Cylinder
	Sphere
)

// Layer is one material from its left (inner) face to its right (outer) one.
type Layer struct {
	Material  Material
	Thickness float64  // m
	Cures     bool     // its cells keep a cure age
	Reaction  Reaction // heat that the layer itself gives off
	Cells     int      // 0 = at least 8, none wider than 2.5 mm
}

// Build is what a Body is made from.
type Build struct {
	Shape       Shape
	InnerRadius float64 // m, of the left face of a cylinder or sphere; 0 = solid
	Layers      []Layer // left to right: pattern, rubber, shell
	LeftH       float64 // surface coefficient of the left face, W/(m²·K); 0 = adiabatic, as the back or middle of a solid pattern
	RightH      float64 // surface coefficient of the right face
}

// Body is the mesh of one mold. It is immutable and may be shared by every
// mold and every forecast with the same layers. Quantities are for one square
// meter of slab, one radian and meter of cylinder, one steradian of sphere.
type Body struct {
	build  Build
	first  []int     // first cell of each layer, and the number of cells
	center []float64 // m, from the axis or from the left face of a slab
	heat   []float64 // J/K of each cell
	inner  []float64 // W/K from each cell's center to its left face
	outer  []float64 // W/K from each cell's center to its right face
	link   []float64 // W/K across each face; the first and last lead to the air
	leftW  float64   // W/K from the left face to the air
	rightW float64   // W/K from the right face to the air
	curing []span
}

// span is a range of cells, the end excluded.
type span struct{ from, to int }

const (
	fewestCells = 8
	widestCellM = 0.0025
	mostCells   = 2000
)

// ErrBuild is wrapped by every error about an impossible body.
var ErrBuild = errors.New("impossible body")

// NewBody makes the mesh. Every layer needs positive, finite properties and
// thickness, and the surface coefficients must not be negative.
func NewBody(build Build) (*Body, error) {
	if err := build.check(); err != nil {
		return nil, err
	}
	b := &Body{build: build}
	b.build.Layers = append([]Layer(nil), build.Layers...)
	edge := build.InnerRadius
	for _, l := range b.build.Layers {
		edge = b.add(l, edge)
	}
	b.first = append(b.first, len(b.heat))
	b.join(edge)
	return b, nil
}

// check refuses what no mesh can be made of.
func (b Build) check() error {
	switch {
	case b.Shape > Sphere:
		return fmt.Errorf("%w: shape %d is none of slab, cylinder and sphere", ErrBuild, b.Shape)
	case len(b.Layers) == 0:
		return fmt.Errorf("%w: no layers", ErrBuild)
	case !finite(b.InnerRadius, b.LeftH, b.RightH) || b.InnerRadius < 0 || b.LeftH < 0 || b.RightH < 0:
		return fmt.Errorf("%w: inner radius %g m and surface coefficients %g and %g must be 0 or more", ErrBuild, b.InnerRadius, b.LeftH, b.RightH)
	}
	cells := 0
	for i, l := range b.Layers {
		m := l.Material
		if !(finite(m.ConductivityW, m.DensityKg, m.HeatJ, l.Thickness) && min(m.ConductivityW, m.DensityKg, m.HeatJ, l.Thickness) > 0) {
			return fmt.Errorf("%w: layer %d (%s) needs a thickness and properties above 0", ErrBuild, i, m.Name)
		}
		if err := l.Reaction.check(); err != nil {
			return fmt.Errorf("%w: layer %d (%s): %w", ErrBuild, i, m.Name, err)
		}
		if cells += l.cells(); cells > mostCells || l.Cells < 0 {
			return fmt.Errorf("%w: at most %d cells, layer %d (%s) asks for %d", ErrBuild, mostCells, i, m.Name, l.cells())
		}
	}
	return nil
}

// finite reports whether every value is an ordinary number.
func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// cells is the number of cells of the layer.
func (l Layer) cells() int {
	if l.Cells != 0 {
		return l.Cells
	}
	const slack = 1e-9 // 40 mm is 16 cells of 2.5 mm, whatever the rounding
	return int(min(max(fewestCells, math.Ceil(l.Thickness/widestCellM-slack)), mostCells+1))
}

// add appends the cells of one layer, its left face at edge, and returns the
// position of its right face.
func (b *Body) add(l Layer, edge float64) float64 {
	from, n := len(b.heat), l.cells()
	b.first = append(b.first, from)
	width := l.Thickness / float64(n)
	for i := range n {
		left, right := edge+float64(i)*width, edge+float64(i+1)*width
		half := 2 * l.Material.ConductivityW / width
		b.center = append(b.center, (left+right)/2)
		b.heat = append(b.heat, l.Material.DensityKg*l.Material.HeatJ*b.build.Shape.volume(left, right))
		b.inner = append(b.inner, half*b.build.Shape.area(left))
		b.outer = append(b.outer, half*b.build.Shape.area(right))
	}
	if l.Cures {
		b.cure(span{from, from + n})
	}
	return edge + l.Thickness
}

// cure adds a range of curing cells, joined to the one before it if they touch.
func (b *Body) cure(s span) {
	if last := len(b.curing) - 1; last >= 0 && b.curing[last].to == s.from {
		b.curing[last].to = s.to
		return
	}
	b.curing = append(b.curing, s)
}

// join works out the conductances across faces: two half cells in series
// (a harmonic mean), and a half cell with the surface at either end.
func (b *Body) join(outerRadius float64) {
	n := len(b.heat)
	b.leftW = b.build.LeftH * b.build.Shape.area(b.build.InnerRadius)
	b.rightW = b.build.RightH * b.build.Shape.area(outerRadius)
	b.link = make([]float64, n+1)
	b.link[0] = series(b.leftW, b.inner[0])
	for i := 1; i < n; i++ {
		b.link[i] = series(b.outer[i-1], b.inner[i])
	}
	b.link[n] = series(b.outer[n-1], b.rightW)
}

// series is the conductance of two in a row.
func series(a, b float64) float64 {
	if a == 0 || b == 0 {
		return 0
	}
	return 1 / (1/a + 1/b)
}

// area is the area of a face at a radius.
func (s Shape) area(radius float64) float64 {
	switch s {
	case Cylinder:
		return radius
	case Sphere:
		return radius * radius
	}
	return 1
}

// volume is the volume between two radii.
func (s Shape) volume(left, right float64) float64 {
	switch s {
	case Cylinder:
		return (right - left) * (right + left) / 2
	case Sphere:
		return (right - left) * (right*right + right*left + left*left) / 3
	}
	return right - left
}

// Cells is the number of cells.
func (b *Body) Cells() int { return len(b.heat) }

// LayerCells is the range of cells of a layer, the end excluded.
func (b *Body) LayerCells(layer int) (from, to int) { return b.first[layer], b.first[layer+1] }

// CenterM is the place of a cell's center, m from the axis or, in a slab, from
// its left face.
func (b *Body) CenterM(cell int) float64 { return b.center[cell] }

// layerOf is the layer that a cell belongs to.
func (b *Body) layerOf(cell int) int {
	layer := 0
	for b.first[layer+1] <= cell {
		layer++
	}
	return layer
}
