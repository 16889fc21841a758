// Package plan reckons backwards from "demolded by": over seal coats, release agent, pour or brushed layers and
// cure, along every way the temperature may go, in the hours in which somebody is there to go on.
//
// On each path the maker acts as Pourward tells: goes on when nine in ten such coats or cures are ready by the
// temperatures of that path, puts coats on only in air that allows it, and pours only where the air lies in
// the rubber's window and stays there through the working life. A cure may run through the night. A start
// holds when the mold is off in time on nine of ten paths.
//
// Nine in ten is asked twice, of each batch and of the air, so a plan is more careful than the band of a step that
// has begun; and paths are counted as they are drawn, without the correction that bands earn by shadow cures.
//
// Everything is reckoned in steps of a quarter of an hour, actions fall on whole five minutes of the clock, and
// nothing is told beyond the forecast's three days.
package plan
