package plan

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"pourward/model/material"
)

// Course is what is to be done, in order. A curing material is mixed and poured, or brushed on in layers, cures
// and is demolded; what comes before it, back to the last demolding, are its coats. A pattern that is molded,
// cast and molded again is one course with three curing materials.
type Course []Item

// Item is one material of a course.
type Item struct {
	Material string
	Times    int // coats put on, or layers brushed; 1 = one coat, or poured
}

// Limits of a course: more is no plan for three days.
const (
	mostTimes = 12
	mostItems = 24
)

// ParseCourse reads materials in order, parted by commas, each with the number of coats or brushed layers before
// it where that is not one: "2 lacquer, wax-naphtha, 3 platinum-slow". What the names stand for is settled by
// [Make].
func ParseCourse(text string) (Course, error) {
	var c Course
	for _, part := range strings.Split(text, ",") {
		words := strings.Fields(part)
		it := Item{Times: 1}
		switch len(words) {
		case 2:
			n, err := strconv.Atoi(strings.TrimRight(words[0], "x×"))
			if err != nil || n < 1 || n > mostTimes {
				return nil, fmt.Errorf("%q is not from 1 to %d coats or layers: write such as 2 lacquer", words[0], mostTimes)
			}
			it.Times = n
			fallthrough
		case 1:
			it.Material = words[len(words)-1]
		default:
			return nil, fmt.Errorf("cannot read %q in the course: write materials in order, such as 2 lacquer, wax-naphtha, platinum-slow", strings.TrimSpace(part))
		}
		c = append(c, it)
	}
	if len(c) > mostItems {
		return nil, fmt.Errorf("the course has %d materials: at most %d can be planned", len(c), mostItems)
	}
	return c, nil
}

// String writes a course as [ParseCourse] reads it.
func (c Course) String() string {
	parts := make([]string, len(c))
	for i, it := range c {
		parts[i] = it.Material
		if it.Times > 1 {
			parts[i] = fmt.Sprintf("%d %s", it.Times, it.Material)
		}
	}
	return strings.Join(parts, ", ")
}

// Kind is what an action is.
type Kind string

const (
	CoatOn    Kind = "coat-on"
	ReleaseOn Kind = "release-on"
	Pour      Kind = "pour"   // mix and pour
	Layer     Kind = "layer"  // mix and brush on
	Demold    Kind = "demold" // take the mold or the casting off
)

// act is one action of a course with what it needs.
type act struct {
	kind   Kind
	title  string
	of     *Stuff
	layers int // of the first of several layers: how many there are
}

// acts lists the actions of a course.
func (s Sight) acts(c Course) ([]act, error) {
	var out []act
	coats := 0
	for _, it := range c {
		of, err := s.find(it.Material)
		switch {
		case err != nil:
			return nil, err
		case it.Times < 1 || it.Times > mostTimes:
			return nil, fmt.Errorf("%d times %s: from 1 to %d coats or layers can be planned", it.Times, it.Material, mostTimes)
		case of.Of.Cures():
			more, err := curing(&of, it.Times)
			if err != nil {
				return nil, err
			}
			out, coats = append(out, more...), 0
			continue
		}
		for range it.Times {
			if of.Of.Kind == material.Release {
				out = append(out, act{kind: ReleaseOn, title: "Release agent", of: &of})
				continue
			}
			coats++
			out = append(out, act{kind: CoatOn, title: fmt.Sprintf("Seal coat %d", coats), of: &of})
		}
	}
	if len(out) == 0 || out[len(out)-1].kind != Demold {
		return nil, errors.New("the course does not end with something that is demolded: name a rubber, a resin or a plaster last")
	}
	return out, nil
}

// curing is a curing material poured, or brushed on in layers, and demolded.
func curing(of *Stuff, layers int) ([]act, error) {
	if !of.Demold.Known() {
		return nil, fmt.Errorf("no demold time is known of %s: give it in the shop's own materials", of.Of.Name)
	}
	off := act{kind: Demold, title: "Demold", of: of}
	if layers == 1 {
		return []act{{kind: Pour, title: "Mix and pour", of: of}, off}, nil
	}
	if !of.LayerFrom.Known() || !of.LayerUntil.Known() {
		return nil, fmt.Errorf("no layer window is known of %s, so it can be poured but not brushed in layers: give one in the shop's own materials", of.Of.Name)
	}
	var out []act
	for i := range layers {
		out = append(out, act{kind: Layer, title: fmt.Sprintf("Mix and brush layer %d", i+1), of: of})
	}
	out[0].layers = layers
	return append(out, off), nil
}
